//! Parses the command line and turns errors into exit codes.

fn main() -> std::process::ExitCode {
    payspread::cli::main()
}
