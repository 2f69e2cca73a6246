//! The command line's entry: arguments in, exit code out.

fn main() -> std::process::ExitCode {
    cueloom::cli::main()
}
