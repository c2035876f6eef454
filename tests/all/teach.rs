//! What `models/teach` takes for the recogniser's features, against the recogniser itself.

use std::path::Path;
use std::process::Command;

use crate::needs;

/// From Debian's `pocketsphinx-testdata`: a reader, 16 kHz.
const READER: &str =
    "/usr/share/pocketsphinx/test/data/librivox/sense_and_sensibility_01_austen_64kb-0870.wav";

#[test]
fn features_and_i_vectors_are_the_recognisers_own() {
    let Some(data) = needs::data_folder() else { return };
    let Some(python) = needs::python() else { return };
    if !needs::thing("pocketsphinx-testdata", Path::new(READER).exists()) {
        return;
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/teach/check.py");
    let mut command = Command::new(python);
    command.arg(script).arg(data.join("models/en-us-small")).arg(READER);
    // The package has a library of its own.
    command.env_remove("LD_LIBRARY_PATH").env("PYTHONDONTWRITEBYTECODE", "1");
    let run = command.output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
}

#[test]
fn what_was_taught_is_small_and_whole() {
    let differences = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/en-us-taught/differences");
    let bytes = std::fs::read(differences).unwrap();
    assert!(bytes.len() <= 8_000_000, "{} bytes", bytes.len());
    let head = bytes.iter().position(|byte| *byte == b'\n').unwrap();
    let places: Vec<[usize; 2]> = serde_json::from_slice(&bytes[..head]).unwrap();
    let numbers: usize = places.iter().map(|[_, count]| count).sum();
    assert_eq!(head + 1 + 2 * numbers, bytes.len());
    // Of the network, what decoding uses: 3,230,736 numbers.
    assert_eq!(numbers, 3_230_736);
}

/// Weights are pulled back to the published ones by how far they have gone; a bias, of few numbers, was held two
/// hundred times as fast as a matrix.
#[test]
fn a_number_of_a_bias_is_pulled_as_much_as_one_of_a_matrix() {
    let Some(python) = needs::python() else { return };
    let script = "import sys, numpy as np
sys.path.insert(0, sys.argv[1])
import nnet
pinned = {'matrix': np.ones((100, 50)), 'bias': np.ones(10)}
def gone(name):
    values = {part: numbers.copy() for part, numbers in pinned.items()}
    values[name].flat[0] += 0.5
    return nnet.distance(values, pinned, {'matrix': 1.0, 'bias': 1.0})
assert gone('bias') == gone('matrix') == 0.25 / 5010, (gone('bias'), gone('matrix'))";
    let teach = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/teach");
    let run = Command::new(python).args(["-B", "-c", script]).arg(teach).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
}
