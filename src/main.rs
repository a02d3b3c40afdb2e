//! The command line: from a drawing and a plate file to proven programs.

mod commands;
mod terminal;

use clap::{CommandFactory, Parser, Subcommand};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Layered, lit plates: from a drawing and a plate file to programs that are proven before anything is cut.
#[derive(Debug, Parser)]
#[command(name = "platewright", version, about, disable_help_subcommand = true)]
#[command(after_help = "Without a command: the bench page of this folder's plates, where new ones are made.")]
struct Line {
    #[command(subcommand)]
    command: Option<Command>,
    /// Print one JSON document instead of text.
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write the bundled demo plate into a folder and make its packet.
    Demo {
        /// Folder for the plate's files and its packet.
        #[arg(default_value = "kestrel-hill")]
        dir: PathBuf,
    },
    /// Start a new plate: a folder with a small drawing, a plate file and a shop file to change.
    New {
        /// The folder; it must not hold these files yet.
        dir: PathBuf,
    },
    /// Say what is in a drawing: contours by name, findings, narrowest places and the largest cutter that passes.
    Look {
        /// A DXF or SVG file.
        drawing: PathBuf,
        /// Unit of a drawing that states none, or to overrule what it states: mm, cm, in.
        #[arg(long)]
        units: Option<String>,
        /// Join ends that are this far apart at most, such as "0.2 mm".
        #[arg(long)]
        close_gaps: Option<String>,
    },
    /// Say what each cutter clears of each area of a plate, what it leaves to the next, and what is left for hand.
    Reach {
        /// The plate file.
        plate: PathBuf,
    },
    /// Make the packet of a plate: programs, proof, pictures and setup sheet. Nothing is written unless proven.
    Packet {
        /// The plate file.
        plate: PathBuf,
        /// Folder for the packet [default: `packet` beside the plate file].
        #[arg(long)]
        out: Option<PathBuf>,
        /// If the packet isn't proven: a folder for the report and a picture of every spot. Never the place of a packet.
        #[arg(long, value_name = "DIR")]
        refusal: Option<PathBuf>,
        #[command(flatten)]
        effort: EffortWords,
    },
    /// Open the bench page of a plate in the browser: see it as the proof cut it, change it, write its packet. Served
    /// on this computer alone, until Ctrl-C.
    Page {
        /// The plate file, or a folder with plates [default: this folder].
        #[arg(default_value = ".", hide_default_value = true)]
        plate: PathBuf,
        /// Port on 127.0.0.1 [default: a free one].
        #[arg(long, default_value_t = 0, hide_default_value = true)]
        port: u16,
        /// Only print the address; start no browser.
        #[arg(long)]
        no_browser: bool,
        /// Let a tablet on the local network in to the page at the machine, by a code that is shown here: ticks and readings,
        /// nothing else. Plain HTTP: use a network you trust. With an address, listen on that one.
        #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true, default_missing_value = FOUND, value_parser = lan_address)]
        lan: Option<String>,
    },
    /// Prove programs from anywhere against a plate, in the order given; without a plate file, say what they do.
    Prove {
        /// The plate file, then the programs; with --shop and --blank the programs alone. Name the cutter of a program as
        /// PROGRAM=NUMBER, else the T word in its text tells it.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<String>,
        /// Where Z0 of the programs lies: on the table, or on the blank's face.
        #[arg(long, value_enum, default_value_t = Zero::Table)]
        zero: Zero,
        /// Without a plate file: the shop file with cutters and machine.
        #[arg(long, requires = "blank", value_name = "FILE")]
        shop: Option<PathBuf>,
        /// Without a plate file: sides and thickness of the blank, such as "100 x 60 x 6 mm".
        #[arg(long, requires = "shop", value_name = "SIZE")]
        blank: Option<String>,
        /// Without a plate file: thickness of what lies between blank and table, such as "3 mm".
        #[arg(long, requires = "shop", value_name = "LENGTH")]
        under: Option<String>,
        /// Without a plate file: which of the shop's sheets the blank is.
        #[arg(long, requires = "shop", value_name = "NAME")]
        sheet: Option<String>,
        /// Folder for the report, a picture of the blank before and after each program, and one of every spot that is
        /// found wrong. Never the place of a packet.
        #[arg(long)]
        out: Option<PathBuf>,
        #[command(flatten)]
        effort: EffortWords,
    },
    /// Say where a number of a plate comes from: every step that led to it, with formula, values and sources. Without a key,
    /// list all that can be asked.
    Why {
        /// The plate file.
        plate: PathBuf,
        /// A key such as "field floor", a number as it stands on the sheet, or a place such as "x 30 y 20".
        #[arg(value_name = "KEY OR PLACE")]
        words: Vec<String>,
    },
    /// Fit the machine's acceleration and corner deviation to what programs really took, and print the lines for the shop file.
    Calibrate {
        /// The plate file whose shop it was, then the programs, each with what it took, as PROGRAM=12:34; with --shop the
        /// programs alone.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<String>,
        /// The shop file, without a plate file.
        #[arg(long, value_name = "FILE")]
        shop: Option<PathBuf>,
        /// By how much a time may be off, give or take, such as "5 s" [default: 2 s].
        #[arg(long, value_name = "TIME")]
        within: Option<String>,
        /// Put the figures into the shop file; everything else in it stays as it is.
        #[arg(long)]
        write: bool,
    },
    /// Explain a kind of doubt by its id; without an id, list all.
    Explain {
        /// The id in brackets behind `refused`, `look` or `note`.
        id: Option<String>,
    },
}

/// How finely is proven, and in how much memory.
#[derive(Debug, clap::Args)]
struct EffortWords {
    /// Pitch of the prover's grid, mm, from 0.005 to 0.1 [default: chosen from the finest cutter and the thinnest wall].
    #[arg(long)]
    pitch: Option<f64>,
    /// The most memory that proving may take, such as "2 GB" [default: 4 GB].
    #[arg(long, value_name = "SIZE")]
    memory: Option<String>,
}

/// Where Z0 lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Zero {
    Table,
    Face,
}

/// The bench page of this folder, in the browser.
fn here() -> commands::page::Words<'static> {
    commands::page::Words { plate: Path::new("."), port: 0, browser: true, lan: None }
}

/// An address to listen on for tablets, or the word for the one that is found.
fn lan_address(said: &str) -> Result<String, String> {
    match said.parse::<std::net::IpAddr>() {
        Ok(address) if !address.is_unspecified() && !address.is_multicast() => Ok(address.to_string()),
        _ if said == FOUND => Ok(FOUND.to_owned()),
        _ => Err("an address of this computer, such as 192.168.1.20".to_owned()),
    }
}

/// Stands for the address that is found.
const FOUND: &str = "found";

fn main() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(error) => {
            // Help and version are no mistakes.
            let code = if error.use_stderr() { 2 } else { 0 };
            if code != 0 && std::env::args_os().any(|word| word == "--json") {
                let words = error.to_string();
                terminal::say_json(
                    &serde_json::json!({ "status": code, "error": words, "way_out": "see `platewright --help`" }),
                );
            } else {
                let _ = error.print();
            }
            return ExitCode::from(code);
        }
    };
    let watch = terminal::Stop::on_ctrl_c(line.json);
    let json = line.json;
    let Some(command) = line.command else {
        // A script that forgot its command shall not wait for a page that nobody sees.
        if !json && !std::io::stdout().is_terminal() {
            let _ = Line::command().write_long_help(&mut std::io::stderr());
            return ExitCode::from(2);
        }
        return ExitCode::from(commands::page::run(&here(), json, &watch));
    };
    let code = match command {
        Command::Demo { dir } => commands::demo::run(&dir, json, &watch),
        Command::New { dir } => commands::new::run(&dir, json),
        Command::Look { drawing, units, close_gaps } => {
            commands::look::run(&drawing, units.as_deref(), close_gaps.as_deref(), json)
        }
        Command::Reach { plate } => commands::reach::run(&plate, json),
        Command::Packet { plate, out, refusal, effort } => {
            let folders = commands::packet::Folders { out: out.as_deref(), refusal: refusal.as_deref() };
            let effort = commands::packet::effort(effort.pitch, effort.memory.as_deref());
            commands::packet::run(&plate, &folders, effort, json, &watch)
        }
        Command::Page { plate, port, no_browser, lan } => {
            let lan = lan.map(|said| said.parse().ok());
            let words = commands::page::Words { plate: &plate, port, browser: !no_browser, lan };
            commands::page::run(&words, json, &watch)
        }
        Command::Prove { files, zero, shop, blank, under, sheet, out, effort } => {
            let effort = commands::packet::effort(effort.pitch, effort.memory.as_deref());
            let zero = match zero {
                Zero::Table => proof::Zero::Table,
                Zero::Face => proof::Zero::Face,
            };
            let blank = commands::prove::Described { shop, blank, under, sheet };
            commands::prove::run(&files, zero, blank, out.as_deref(), effort, json, &watch)
        }
        Command::Why { plate, words } => commands::why::run(&plate, &words, json, &watch),
        Command::Calibrate { files, shop, within, write } => {
            commands::calibrate::run(&files, shop.as_ref(), within.as_deref(), write, json)
        }
        Command::Explain { id } => commands::explain::run(id.as_deref(), json),
    };
    ExitCode::from(code)
}
