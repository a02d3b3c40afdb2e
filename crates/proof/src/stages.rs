//! The run from texts to the verdict.

use crate::access::Access;
use crate::course::{self, Course, Ground};
use crate::engage::Paths;
use crate::finding::{Found, Tally, mm};
use crate::intent::{AREAS, Class, FACE, MARGIN, Wanted};
use crate::judge::{Fault, HandRun, Judge, Wrong, join_faults};
use crate::known::Known;
use crate::lean::Leaning;
use crate::leg::{Leg, Run};
use crate::loads::{Loads, deepest_pass};
use crate::loose::Pieces;
use crate::near::Near;
use crate::probes::{Before, Probed, probe};
use crate::profile::Profile;
use crate::relief::{Cut, Cuts, Grid, Tooling, Touch, Work, join_touches};
use crate::verdict::{HeightMap, Proof, StageProof, Verdict};
use crate::{ProgramText, Settings, Watch, bounds, hand, kinds, tabs};
use memo::Memo;
use plate::{Cutter, FloorKind, Held, Intent, Material, Shop};
use quantity::Length;
use rayon::prelude::*;
use read::Program;
use std::collections::BTreeMap;

/// The groove around the plate may be wider than the widest cutter by this, mm.
const GROOVE: f64 = 0.5;
/// Less than this above the underside doesn't hold anything, mm.
const SKIN: f64 = 0.05;

/// Proves program texts; `None` if stopped.
pub fn prove(
    shop: &Shop,
    intent: &Intent,
    texts: &[ProgramText],
    settings: &Settings,
    watch: &dyn Watch,
) -> Option<Proof> {
    let programs: Vec<Program> = texts.par_iter().map(|t| read::read(t.file, t.bytes)).collect();
    let named: Vec<(Option<u32>, bool)> = texts.iter().map(|t| (t.cutter, t.cutting)).collect();
    prove_read(shop, intent, &programs, &named, settings, watch)
}

/// Proves programs already read, each with the cutter named beside it and whether it cuts; `None` if stopped.
pub fn prove_read(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    settings: &Settings,
    watch: &dyn Watch,
) -> Option<Proof> {
    prove_again(shop, intent, programs, named, settings, &Memo::none(), watch)
}

/// The same proof, with what was kept of others used again: ground that is cut by the same legs in the same order, and what
/// each of those asks of the cutter.
pub fn prove_again(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    settings: &Settings,
    memo: &Memo,
    watch: &dyn Watch,
) -> Option<Proof> {
    let mut tally = Tally::default();
    let wanted = Wanted::again(intent, memo);
    let in_tiles = if memo.keeps() { Grid::in_small_tiles } else { Grid::new };
    let grid = in_tiles(wanted.size, settings.pitch(), settings.picture_pitch);
    let staged = |(i, program)| {
        let mut found = Tally::default();
        let (named, cutting) = named.get(i).copied().unwrap_or((None, true));
        (Stage::new(shop, intent, i, program, named, cutting, &mut found), found)
    };
    let staged: Vec<(Stage, Tally)> = programs.par_iter().enumerate().map(staged).collect();
    let (stages, found): (Vec<Stage>, Vec<Tally>) = staged.into_iter().unzip();
    found.into_iter().for_each(|found| tally.join(found));
    let whole = stages.iter().all(|s| s.course.whole);
    let legs: Vec<Leg> = stages.iter().flat_map(|s| s.course.legs.iter().copied()).collect();
    let tooling: Vec<Option<Tooling>> =
        stages.iter().map(|s| s.profile.map(|profile| Tooling { profile, deep: s.deepest })).collect();

    if watch.stopped() {
        return None;
    }
    let access = Access::new(&wanted, shop, intent);
    let leaning = Leaning::new(&wanted, shop);
    let judge = Judge::new(&wanted, &access, &leaning, grid, shop.widest_cutter() + GROOVE, whole);
    let (face_high, through) = (wanted.face_high, through(&wanted));
    let work = Work { grid, face_high, through, legs: &legs, tooling: &tooling, memo };
    let Cuts { tiles: cuts, histories } = work.cut(|tile, print| judge.again(tile, print, memo), watch)?;

    let after = After {
        shop,
        wanted: &wanted,
        access: &access,
        leaning: &leaning,
        stages: &stages,
        legs: &legs,
        tooling: &tooling,
        known: Known::recalled(memo, &histories),
        before: judge.decided.as_ref().and_then(|decided| {
            let tiles = cuts.iter().map(|cut| cut.print).collect::<Option<_>>()?;
            Some(Before { memo, decided, grid, tiles })
        }),
        watch,
    };
    let (walls, (judged, loose)) =
        rayon::join(|| after.walls(whole), || rayon::join(|| after.loads(&grid, &cuts), || after.pieces(&grid, &cuts)));
    if watch.stopped() {
        return None;
    }
    after.known.keep(memo);
    watch.progress(0.9);
    let faults = join_faults(cuts.iter().map(|c| &c.judged));
    tally.join(judged.tally);
    report_faults(&wanted, &walls.near, &faults, &mut tally);
    report_probes(&wanted, &walls.probed, &mut tally);
    tally.join(walls.tally);
    tally.join(loose);
    let probed = walls.probed;
    wrong_layers(&wanted, &faults, whole, &mut tally);
    let runs: Vec<HandRun> = cuts.iter().flat_map(|c| c.judged.hand.iter().copied()).collect();
    let hand_work = hand::spots(&wanted, &access, &leaning, &grid, &runs, &probed.hand, &mut tally);
    if watch.stopped() {
        return None;
    }
    watch.progress(1.0);
    let greatest_floor_error = cuts.iter().map(|c| c.judged.floor_error).fold(0.0, f64::max);
    let (findings, spots) = tally.close(programs);
    Some(Proof {
        verdict: verdict(&findings),
        relief: judged.proofs.last().map(|s| s.relief.clone()).unwrap_or_default(),
        stages: judged.proofs,
        findings,
        hand_work,
        walls: probed.figures,
        wall_reports: probed.reports(&wanted, programs),
        greatest_floor_error,
        pitch: grid.pitch,
        cells: (grid.columns * grid.rows) as u64,
        spots,
        pitch_why: String::new(),
    })
}

pub(crate) fn verdict(findings: &[doubt::Doubt]) -> Verdict {
    if doubt::any_blocks(findings) {
        Verdict::Refused
    } else if findings.iter().any(|d| d.id.starts_with("undecided-")) {
        Verdict::Undecided
    } else {
        Verdict::Proven
    }
}

/// Height at and below which a place is cut through.
fn through(wanted: &Wanted) -> f64 {
    let skin = match wanted.intent.outline.as_ref().map(|o| &o.held) {
        Some(Held::Skin(t)) => t.to_mm() * 0.5,
        Some(Held::Tabs(t)) => t.left.to_mm() * 0.5,
        _ => SKIN,
    };
    wanted.underside + skin.clamp(0.0, SKIN)
}

/// What is judged when everything is cut: three tasks that need nothing of each other.
struct After<'a> {
    shop: &'a Shop,
    wanted: &'a Wanted<'a>,
    access: &'a Access<'a>,
    leaning: &'a Leaning,
    stages: &'a [Stage<'a>],
    legs: &'a [Leg],
    tooling: &'a [Option<Tooling>],
    /// The engagement of legs with the same history.
    known: Known<'a>,
    /// What was found on walls with the same legs beside them.
    before: Option<Before<'a>>,
    watch: &'a dyn Watch,
}

/// Walls and tabs.
struct Walls<'a> {
    near: Near<'a>,
    probed: Probed,
    tally: Tally,
}

/// Programs by what their legs ask of the cutter.
struct Judged {
    proofs: Vec<StageProof>,
    tally: Tally,
}

impl<'a> After<'a> {
    fn walls(&self, whole: bool) -> Walls<'a> {
        let near = Near::new(self.legs, self.tooling, self.wanted.size, self.wanted.face_high);
        let probed = probe(self.wanted, self.access, self.leaning, &near, whole, self.before.as_ref(), self.watch);
        let mut tally = Tally::default();
        if whole {
            tabs::judge(self.wanted, self.access, &near, self.legs, self.tooling, &mut tally);
        }
        Walls { near, probed, tally }
    }

    fn loads<J: Sync>(&self, grid: &Grid, cuts: &[Cut<J>]) -> Judged {
        let touches = join_touches(cuts.iter().map(|c| &c.touches), self.legs.len());
        let paths = Paths::new(self.legs, self.tooling, self.wanted.size, self.wanted.face_high);
        let starts = self.stages.iter().scan(0, |next, stage| {
            let first = *next;
            *next += stage.course.legs.len();
            Some(first)
        });
        let stages: Vec<(&Stage, usize)> = self.stages.iter().zip(starts).collect();
        let judged = |((stage, first_leg), relief): ((&Stage, usize), HeightMap)| {
            let touches = &touches[first_leg..first_leg + stage.course.legs.len()];
            let model = Model { pitch: grid.pitch, paths: &paths, first_leg, known: &self.known, watch: self.watch };
            let mut tally = Tally::default();
            (stage.judge(self.shop, self.wanted.intent, touches, relief, &model, &mut tally), tally)
        };
        let judged: Vec<(StageProof, Tally)> =
            stages.into_par_iter().zip(reliefs(grid, cuts, self.stages.len())).map(judged).collect();
        let (mut proofs, mut tally) = (Vec::new(), Tally::default());
        for (proof, found) in judged {
            proofs.push(proof);
            tally.join(found);
        }
        Judged { proofs, tally }
    }

    fn pieces<J>(&self, grid: &Grid, cuts: &[Cut<J>]) -> Tally {
        let mut tally = Tally::default();
        Pieces::new(grid, cuts).judge(self.wanted, self.legs, self.tooling, &mut tally);
        tally
    }
}

/// What a program's legs are judged in.
struct Model<'a> {
    pitch: f64,
    paths: &'a Paths<'a>,
    first_leg: usize,
    known: &'a Known<'a>,
    watch: &'a dyn Watch,
}

/// One program on its way.
struct Stage<'a> {
    index: usize,
    program: &'a Program,
    cutting: bool,
    course: Course,
    cutter: Option<&'a Cutter>,
    profile: Option<Profile>,
    deepest: f64,
}

impl<'a> Stage<'a> {
    fn new(
        shop: &'a Shop,
        intent: &Intent,
        index: usize,
        program: &'a Program,
        named: Option<u32>,
        cutting: bool,
        tally: &mut Tally,
    ) -> Self {
        let highest = intent.highest().to_mm();
        let ground = Ground { shop, stage: index, named, cutting, highest };
        let course = course::chart(program, &ground, tally);
        let cutter = course.cutter.and_then(|n| shop.cutter(n));
        if let Some(cutter) = cutter
            && cutting
            && !intent.cutters.contains(&cutter.number)
        {
            tally.add(Found::new(&kinds::CUTTER_NOT_ALLOWED, index).caution().saying(
                format!(
                    "cutter {} ({}) isn't among the cutters that the plate file allows",
                    cutter.number, cutter.name
                ),
                "add it to the plate's cutters, or use another",
            ));
        }
        // Without a cutter the frame run is judged by the widest one.
        let widest = || shop.cutters.iter().max_by(|a, b| a.radius().total_cmp(&b.radius()));
        let body = cutter.or_else(|| if cutting { None } else { widest() });
        let profile = body.map(|c| Profile::new(c, &shop.spindle));
        let deepest = body.map_or(f64::INFINITY, |c| deepest_pass(shop, c, material_of(intent)));
        bounds::table(&course, index, intent, tally);
        bounds::travel(&course, index, &shop.machine, tally);
        if let Some(profile) = &profile {
            bounds::holds(&course, index, intent, profile, tally);
        }
        Self { index, program, cutting, course, cutter, profile, deepest }
    }

    fn judge(
        &self,
        shop: &Shop,
        intent: &Intent,
        touches: &[Option<Touch>],
        relief: HeightMap,
        model: &Model,
        tally: &mut Tally,
    ) -> StageProof {
        let body = self.cutter.or_else(|| shop.cutters.first());
        let judged = match (body, self.profile) {
            (Some(cutter), Some(profile)) => Loads {
                shop,
                stage: self.index,
                program: self.program,
                course: &self.course,
                cutter,
                profile,
                deepest: self.deepest,
                cutting: self.cutting,
                pitch: model.pitch,
                paths: model.paths,
                first_leg: model.first_leg,
                known: model.known,
                watch: model.watch,
                material: material_of(intent),
            }
            .judge(touches, tally),
            _ => crate::loads::Judged::nothing(),
        };
        if !self.cutting {
            let highest = intent.highest().to_mm();
            if let Some(leg) = self.course.legs.iter().find(|l| l.lowest() <= highest && l.run == Run::Feed) {
                let p = leg.path.start();
                let found = Found::new(&kinds::FRAME_TOUCHES, self.index).line(leg.line);
                tally.add(found.at(p.x, p.y, leg.lowest()).amount(highest - leg.lowest()).saying(
                    format!(
                        "the frame run comes down to {}, but something stands {} high",
                        mm(leg.lowest()),
                        mm(highest)
                    ),
                    "raise the frame run above the face and the holds",
                ));
            }
        }
        let seconds: f64 = reckon::pace::times(&shop.machine, &self.course.steps).iter().sum();
        StageProof {
            file: self.program.file.clone(),
            cutter_number: self.cutter.map_or(0, |c| c.number),
            cutter: self.cutter.map_or_else(|| "none".to_owned(), |c| c.name.clone()),
            cutting_width: self.cutter.map_or(0.0, |c| c.cutting_width.to_mm()),
            minutes: seconds / 60.0,
            cutter_use: judged.cutter_use,
            slow_places: judged.slow_places,
            loads: judged.loads,
            stretches: judged.stretches,
            relief,
        }
    }
}

/// The material by which the blank is cut.
fn material_of(intent: &Intent) -> Material {
    reckon::material::hardest(intent.blank.layers.iter().map(|l| l.sheet.material))
}

/// Pictures after each stage, from the tiles' samples.
pub(crate) fn reliefs<J: Sync>(grid: &Grid, cuts: &[Cut<J>], stages: usize) -> Vec<HeightMap> {
    let (columns, rows) = grid.coarser(grid.picture);
    let (across, _) = grid.tiles();
    let side = grid.tile / grid.picture;
    let map = |stage: usize| {
        let mut heights = vec![0.0; columns * rows];
        for (tile, cut) in cuts.iter().enumerate() {
            let (column, row) = (tile % across * side, tile / across * side);
            let width = side.min(columns - column);
            let Some(samples) = cut.reliefs.get(stage) else { continue };
            for (r, line) in samples.chunks(width).enumerate() {
                let at = (row + r) * columns + column;
                heights[at..at + width].copy_from_slice(line);
            }
        }
        HeightMap { pitch: grid.pitch * grid.picture as f64, origin: plane::Point::default(), columns, rows, heights }
    };
    (0..stages).into_par_iter().map(map).collect()
}

fn report_faults(wanted: &Wanted, near: &Near, faults: &BTreeMap<(Class, Wrong), Fault>, tally: &mut Tally) {
    for (&(class, wrong), fault) in faults {
        let (at, name, floor) = (fault.at, wanted.name(class), wanted.floor(class));
        let skin = match &wanted.intent.outline {
            Some(o) if class == MARGIN => matches!(o.held, Held::Skin(_)),
            _ => wanted.area(class).is_some_and(|a| matches!(a.held, Held::Skin(_))),
        };
        let is_through = wanted.area(class).is_some_and(|a| a.kind == FloorKind::Through);
        let (kind, message, way_out) = match wrong {
            Wrong::TooDeep if skin => (
                &kinds::SKIN_MISSING,
                format!("the skin under `{name}` is cut {} too deep", mm(fault.amount)),
                "raise the last pass to the floor that leaves the skin",
            ),
            Wrong::TooDeep if class == FACE => (
                &kinds::GOUGE,
                format!("the face is cut {} deep where nothing is asked for", mm(fault.amount)),
                "look at the height and place of the line named",
            ),
            Wrong::TooDeep if wanted.lean(class) > 0.0 => (
                &kinds::GOUGE,
                format!("`{name}` is cut {} deeper than its leaning walls and its floor allow", mm(fault.amount)),
                "look at the height and place of the line named",
            ),
            Wrong::TooHigh if wanted.lean(class) > 0.0 => (
                &kinds::LEFTOVER,
                format!("{} stands above the leaning walls or the floor of `{name}`", mm(fault.amount)),
                "add or lower the vee's way there, or the pass that clears the floor",
            ),
            Wrong::TooDeep => (
                &kinds::GOUGE,
                format!("`{name}` is cut {} below its floor at {}", mm(fault.amount), mm(floor)),
                "look at the height and place of the line named",
            ),
            Wrong::TooHigh if is_through => (
                &kinds::THROUGH_MISSING,
                format!("`{name}` shall go through, but {} stands above its floor", mm(fault.amount)),
                "add or lower the pass that clears it",
            ),
            Wrong::TooHigh => (
                &kinds::LEFTOVER,
                format!("{} stands above the floor of `{name}` where a cutter reaches", mm(fault.amount)),
                "add or lower the pass that clears it",
            ),
            Wrong::Astray => (
                &kinds::MARGIN_CUT,
                format!("the margin is cut {} beyond the groove around the plate", mm(fault.amount)),
                "look at the place of the line named",
            ),
        };
        let limit = match wrong {
            Wrong::TooDeep => floor - crate::relief::TOUCH,
            Wrong::TooHigh | Wrong::Astray => wanted.face_high,
        };
        let by = if wrong == Wrong::TooHigh { None } else { near.first_below(at, limit) };
        let found = Found::on_plate(kind)
            .stage(by.map(|l| l.stage))
            .group(format!("{class:05}"))
            .at(at.x, at.y, fault.height)
            .amount(fault.amount)
            .count(fault.cells);
        let found = if let Some(leg) = by { found.line(leg.line) } else { found };
        tally.add(found.saying(message, way_out));
    }
}

fn report_probes(wanted: &Wanted, probed: &Probed, tally: &mut Tally) {
    for (list, kind, way_out) in [
        (&probed.gouges, &kinds::WALL_GOUGE, "keep the path away from the wall by the cutter's radius"),
        (
            &probed.leftovers,
            &kinds::WALL_LEFTOVER,
            "bring the path to the cutter's radius from the wall, down to the floor",
        ),
    ] {
        for touched in list {
            let (name, amount) = (wanted.name(touched.class), touched.beyond.abs());
            let message = if touched.beyond > 0.0 {
                format!("the wall of `{name}` is cut {} deep", mm(amount))
            } else if amount >= crate::near::FAR {
                format!("at least {} is left on the wall of `{name}`", mm(amount))
            } else {
                format!("{} is left on the wall of `{name}`", mm(amount))
            };
            let found = Found::on_plate(kind)
                .stage(touched.line.map(|l| l.0))
                .group(format!("{:05}", touched.class))
                .at(touched.at.x, touched.at.y, touched.height)
                .amount(amount);
            let found = if let Some((_, line)) = touched.line { found.line(line) } else { found };
            tally.add(found.saying(message, way_out));
        }
    }
}

/// Floors that shall show a layer, at their worst.
fn wrong_layers(wanted: &Wanted, faults: &BTreeMap<(Class, Wrong), Fault>, whole: bool, tally: &mut Tally) {
    for (i, area) in wanted.intent.areas.iter().enumerate() {
        let FloorKind::Shows(layer) = area.kind else { continue };
        let Some(layer) = wanted.intent.blank.layers.get(layer) else { continue };
        let class = AREAS + i as Class;
        let top = (layer.top - layer.top_spread).to_mm();
        let bottom = (layer.bottom + layer.bottom_spread).to_mm();
        let worst = |wrong: Wrong| faults.get(&(class, wrong)).map(|f| (f.height, f.at));
        let anywhere = area.region.shapes.first().and_then(|s| s.outer.vertices.first()).map(|v| v.p);
        let Some(anywhere) = anywhere else { continue };
        let high = worst(Wrong::TooHigh).filter(|_| whole).unwrap_or((area.floor.to_mm(), anywhere));
        let low = worst(Wrong::TooDeep).unwrap_or((area.floor.to_mm(), anywhere));
        for (beyond, (height, at), where_to) in [(high.0 - top, high, "above"), (bottom - low.0, low, "below")] {
            if beyond > 1e-6 {
                let spread = Length::mm(beyond);
                tally.add(
                    Found::on_plate(&kinds::WRONG_LAYER)
                        .group(format!("{class:05}"))
                        .at(at.x, at.y, height)
                        .amount(beyond)
                        .saying(
                            format!(
                                "`{}` shall show {}, but its floor at {} is {spread} {where_to} the heights where that is certain ({} to {})",
                                area.name,
                                layer.sheet.name,
                                mm(height),
                                mm(bottom),
                                mm(top)
                            ),
                            "measure the sheets, or choose another floor",
                        ),
                );
            }
        }
    }
}
