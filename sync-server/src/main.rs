//! The `scupper` command; see `scupper --help`.

fn main() -> std::process::ExitCode {
    scupper_server::cli::run()
}
