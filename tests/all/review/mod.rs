//! The review: pages as a browser gets them, and in a browser.

mod browser;
pub(crate) mod demo;
mod films;
mod links;
mod look;
pub(crate) mod pages;
