//! The program: arguments in, exit code out. 0: done. 1: the scene has errors. 2: it could not run.

use std::process::ExitCode;

mod cli;

fn main() -> ExitCode {
    cli::guard(|| {
        let arguments = cli::arguments::read();
        cli::run(&arguments)
    })
}
