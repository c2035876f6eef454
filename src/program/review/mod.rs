//! Looking again: pages on the loopback address, films placed by their sound, second observers, reports.
//!
//! | part | does |
//! |---|---|
//! | [`align`] *pure* | finds where a film lies in session time |
//! | [`agree`] *pure* | compares two observers |
//! | [`corrections`] *pure* | says which corrections may be made, as the record stands |
//! | [`chart`] *pure* | draws SVG |
//! | [`vtt`] *pure* | writes captions and chapters |
//! | [`session_view`], [`agree_view`], [`animal_view`] *pure* | make of the record what pages show |
//! | [`report`] | makes files to hand on |
//! | [`film`] | hears a film's sound |
//! | [`web`] | serves the pages |

pub mod agree;
pub mod agree_view;
pub mod align;
pub mod animal_view;
pub mod chart;
pub mod corrections;
pub mod film;
mod labels;
pub mod links_view;
pub mod report;
pub mod session_view;
pub mod vtt;
pub mod web;
