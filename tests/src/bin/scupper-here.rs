//! The `scupper` command, built beside the tests so that they can run it as a process.

fn main() -> std::process::ExitCode {
    scupper_server::cli::run()
}
