//! Looking again: pages on the loopback address, films placed by their sound, second observers, reports.
//!
//! | part | does |
//! |---|---|
//! | [`align`] *pure* | finds where a film lies in session time |
//! | [`agree`] *pure* | compares two observers |
//! | [`chart`] *pure* | draws SVG |
//! | [`vtt`] *pure* | writes captions and chapters |
//! | [`film`] | hears a film's sound |

pub mod agree;
pub mod align;
pub mod chart;
pub mod vtt;
mod words;
