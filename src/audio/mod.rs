//! Sound from devices and files to 16 kHz mono frames, and tones back out. Never decides what a sound means.
