//! Numbers in, estimates out. Pure: never formats, prints or reads anything.
