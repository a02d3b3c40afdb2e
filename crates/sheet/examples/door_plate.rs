//! Writes every picture and the setup sheet of a plate built in code into a folder, to be looked at:
//! `cargo run --release -p sheet --example door_plate -- FOLDER`.

#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::time::Instant;

fn main() -> std::io::Result<()> {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".to_owned()));
    std::fs::create_dir_all(&folder)?;
    let mut plate = fixture::door_plate(0.1);
    let job = plate.job();
    let begun = Instant::now();
    let save = |name: &str, bytes: Vec<u8>| {
        println!("{name}: {} kB after {:.3} s", bytes.len() / 1000, begun.elapsed().as_secs_f64());
        std::fs::write(folder.join(name), bytes)
    };
    save("face.png", sheet::face(&job))?;
    for i in 0..job.stages.len() {
        save(&format!("stage-{}.png", i + 1), sheet::after_stage(&job, i))?;
    }
    save("section.png", sheet::section(&job))?;
    save("hand-work.png", sheet::hand_work(&job))?;
    save("setup-sheet.pdf", sheet::setup_sheet(&job))?;
    let busy = fixture::door_plate_with_many_corners(0.2);
    std::fs::write(folder.join("busy-hand-work.png"), sheet::hand_work(&busy.job()))?;
    std::fs::write(folder.join("busy.pdf"), sheet::setup_sheet(&busy.job()))?;
    plate.proof.verdict = proof::Verdict::Refused;
    std::fs::write(folder.join("refused.pdf"), sheet::setup_sheet(&plate.job()))?;
    Ok(())
}
