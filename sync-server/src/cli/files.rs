//! Reading the files a command is given and writing its answer.

use super::Failure;
use scupper_core::survey::read::{from_json, survey_from_json};
use scupper_core::survey::{InputError, Survey};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::io::{ErrorKind, Read, Write};
use std::path::Path;

/// No survey, transcript or rate book is larger; a larger file is a mistake.
const LARGEST: u64 = 256 << 20;

/// The text of a file, or of stdin for `-`.
pub(super) fn text(path: &Path) -> Result<String, Failure> {
    let shown = path.display();
    let mut bytes = Vec::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin()
            .lock()
            .take(LARGEST + 1)
            .read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes))
    };
    read.map_err(|error| Failure::Input(format!("{shown}: cannot be read: {error}")))?;
    if bytes.len() as u64 > LARGEST {
        return Err(Failure::Input(format!(
            "{shown}: is larger than {LARGEST} bytes"
        )));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Failure::Input(format!(
            "{shown}: byte {at} is not UTF-8 text; save the file as UTF-8"
        ))
    })?;
    Ok(text
        .strip_prefix('\u{feff}')
        .map(str::to_owned)
        .unwrap_or(text))
}

/// Says which file an error is in.
pub(super) fn in_file(path: &Path, error: &InputError) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}

/// Reads one of the contract's shapes.
pub(super) fn json<T: DeserializeOwned>(path: &Path) -> Result<T, Failure> {
    from_json(&text(path)?).map_err(|error| in_file(path, &error))
}

/// Reads and checks a survey.
pub(super) fn survey(path: &Path) -> Result<Survey, Failure> {
    survey_from_json(&text(path)?).map_err(|error| in_file(path, &error))
}

/// Writes an answer to stdout; a reader that has seen enough (`| head`) is no failure.
pub(crate) fn answer(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::other("stdout cannot be written", error))
        }
        _ => Ok(()),
    }
}

/// Writes an answer as JSON, indented, with a newline at its end.
pub(super) fn answer_json<T: Serialize>(value: &T) -> Result<(), Failure> {
    answer(&pretty(value)?)
}

/// JSON as it is printed and written to files.
pub(crate) fn pretty<T: Serialize>(value: &T) -> Result<String, Failure> {
    let mut text =
        serde_json::to_string_pretty(value).map_err(|e| Failure::other("making JSON", e))?;
    text.push('\n');
    Ok(text)
}
