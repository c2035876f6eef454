//! The review: pages as a browser gets them, and in a browser.

mod browser;
mod demo;
mod pages;
