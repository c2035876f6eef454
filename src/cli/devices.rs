//! `hushtally devices`

use super::Failure;
use crate::audio::device::{Direction, list};

pub(super) fn run() -> Result<(), Failure> {
    for (direction, title) in
        [(Direction::Input, "Microphones (--mic):"), (Direction::Output, "Outputs (--ear):")]
    {
        println!("{title}");
        match list(direction) {
            Ok(devices) => devices.iter().for_each(|device| println!("  {}", device.name)),
            Err(error) => println!("  {error}"),
        }
    }
    Ok(())
}
