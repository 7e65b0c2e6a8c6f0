//! What a terminal wants of a program: that it completes what is typed, and a manual. Both are made of the arguments themselves.

use std::path::Path;

use clap::CommandFactory as _;
use clap_complete::{Shell, generate};
use clap_mangen::Man;

use super::arguments::Arguments;
use super::{Failure, finish, print, write};

/// Prints a script with which a shell completes commands and options.
pub(super) fn completions(shell: Shell) -> Result<(), Failure> {
    let mut script = Vec::new();
    generate(shell, &mut Arguments::command(), "roomwright", &mut script);
    print(&String::from_utf8_lossy(&script))
}

/// Writes a manual page of the program and one of each command.
pub(super) fn manual(out: Option<&Path>) -> Result<(), Failure> {
    let mut program = Arguments::command();
    program.build();
    let commands: Vec<_> = program.get_subcommands().filter(|command| command.get_name() != "help").cloned().collect();
    let page = |command| {
        let page = Man::new(command);
        let mut bytes = Vec::new();
        page.render(&mut bytes)?;
        Ok((page.get_filename(), bytes))
    };
    let pages = std::iter::once(program).chain(commands).map(page).collect::<Result<Vec<_>, Failure>>()?;
    let written = write("manual", None, out, &pages)?;
    finish(false, &written, "", || {
        "Manual pages: `man -l FILE` shows one; copied into a folder man1 of the manual path they are found by name.".to_owned()
    })
}
