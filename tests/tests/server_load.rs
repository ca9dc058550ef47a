//! Many devices at once, for a moment: nobody is refused. `cargo run --release -p scupper-tests
//! --bin load` is the long run with its figures; no time is asserted here.

use std::process::Command;

#[test]
fn many_devices_at_once_are_all_answered() {
    let output = Command::new(env!("CARGO_BIN_EXE_load"))
        .args(["--devices", "40", "--seconds", "4", "--every-ms", "500"])
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let wrong = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}{wrong}");
    for line in ["bare handler: ", "exchange: "] {
        let line = said.lines().find_map(|found| found.strip_prefix(line));
        let count = line.and_then(|line| line.split(' ').next()?.parse::<u32>().ok());
        assert!(count.is_some_and(|count| count > 100), "{said}");
    }
    print!("{said}");
}
