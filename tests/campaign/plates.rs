//! The plates that are broken: the demo, and small plates with an icon each, in four forms.

use crate::icons::{icons, placed};
use crate::oracle::{Sound, World};
use crate::shape::{Levels, Shape};
use plate::{Intent, Shop};
use proof::{Proof, Settings, Verdict};
use std::fs;
use std::path::Path;

/// A plate with its unbroken programs.
pub(crate) struct Plate {
    pub(crate) name: String,
    pub(crate) shop: Shop,
    pub(crate) intent: Intent,
    pub(crate) programs: Vec<(String, String)>,
    /// Which of the shop's cutters they use.
    pub(crate) used: Vec<usize>,
    pub(crate) settings: Settings,
    pub(crate) shape: Shape,
    pub(crate) sound: Sound,
}

/// What a small plate's file says, by form: a pocket; a pocket on a plate that is cut out, between screws; an icon that
/// stays standing in a field; two floors, one showing the layer beneath.
fn plate_file(form: usize) -> String {
    let blank = |size: f64, place: f64| {
        format!(
            "title = \"icon\"\ndrawing = \"icon.svg\"\nplace = [{place}, {place}]\ncutters = [1, 2]\n[blank]\nsize = [{size}, {size}]\n\
             bond = 0.0\nbond_spread = 0.0\nbow = 0.0\nunder = [{{ name = \"card\", thickness = 0.3 }}]\n\
             layers = [{{ sheet = \"night black 3\", measured = [3.0] }}, {{ sheet = \"ruby clear 3\", measured = [3.0] }}]\n\
             measured_total = [6.0]\n"
        )
    };
    match form % 4 {
        0 => blank(20.0, 1.0) + "[[area]]\non = \"icon\"\nfloor = { below_face = 2 }\n",
        1 => {
            blank(38.0, 10.0)
                + "[[area]]\non = \"icon\"\nfloor = { below_face = 2 }\n[plate]\nwithin = \"outline\"\n\
                   held_by = { tabs = 3, length = 3, left = 0.6 }\n\
                   [[hold]]\nkind = \"screw 4\"\nat = [4.2, 4.2]\n[[hold]]\nkind = \"screw 4\"\nat = [33.8, 33.8]\n"
        }
        2 => blank(22.0, 2.0) + "[[area]]\non = \"field\"\nkeep = \"icon\"\nfloor = { below_face = 1.2 }\n",
        _ => {
            blank(22.0, 2.0)
                + "[[area]]\non = \"field\"\nfloor = { below_face = 0.8 }\n[[area]]\non = \"icon\"\n\
                   floor = { shows = \"ruby clear 3\" }\n"
        }
    }
}

/// The icon scaled so that its longer side is 14 mm, in the middle of a field of 18 mm with rounded corners, which is
/// also the plate's edge.
fn drawing(view: &str, data: &str) -> String {
    let icon = placed(view, data, 14.0, 9.0);
    let frame =
        |id: &str| format!("<rect id=\"{id}\" width=\"18\" height=\"18\" rx=\"3\" fill=\"none\" stroke=\"black\"/>");
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"18mm\" height=\"18mm\" viewBox=\"0 0 18 18\">{}{}\
         {icon}</svg>",
        frame("outline"),
        frame("field")
    )
}

/// Plans and proves a plate; `None` if its programs aren't proven to begin with.
fn plan(name: &str, file: &Path, settings: Settings, spots: f64) -> Option<Plate> {
    let mut outcome = packet::Outcome::default();
    let computed = packet::compute(file, &settings, &(), &mut outcome);
    let Some((computed, _)) = computed.filter(|c| c.0.proof.verdict == Verdict::Proven) else {
        let why = outcome.doubts.iter().find(|d| d.blocks()).map_or("", |d| d.id);
        println!("{name} is left out, as it isn't proven to begin with: {why}");
        return None;
    };
    let (shop, intent) = (&computed.job.shop, &computed.job.intent);
    let radii = intent.cutters.iter().filter_map(|&n| shop.cutter(n)).map(plate::Cutter::radius);
    let shape = Shape::new(intent, spots, radii.fold(f64::INFINITY, f64::min));
    let used = |c: &plate::Cutter| computed.programs.iter().any(|p| p.1.lines().any(|l| l == format!("T{}", c.number)));
    let used = (0..shop.cutters.len()).filter(|&i| used(&shop.cutters[i])).collect();
    let mut plate = Plate {
        name: name.to_owned(),
        shop: computed.job.shop,
        intent: computed.job.intent,
        programs: computed.programs,
        used,
        settings,
        shape,
        sound: Sound::default(),
    };
    let world = World {
        shape: &plate.shape,
        levels: Levels::new(&plate.intent),
        holds: &plate.intent.holds,
        shop: &plate.shop,
        programs: &plate.programs,
        moved: [0.0, 0.0],
        measuring: true,
    };
    match world.sound() {
        Ok(sound) => plate.sound = sound,
        Err(harm) => panic!("{name}: the oracle finds harm in what isn't broken: {harm:?}"),
    }
    Some(plate)
}

/// The demo, proven on a grid of `pitch`.
pub(crate) fn demo(pitch: f64) -> Plate {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
    let settings = Settings { pitch, picture_pitch: 1.0 };
    plan("demo", &file, settings, 0.25).unwrap()
}

/// `count` icons that are proven unbroken, of all sorts, from `first` on.
pub(crate) fn small(first: usize, count: usize) -> Vec<Plate> {
    let icons = icons();
    let mut plates = Vec::new();
    let mut at = first;
    while plates.len() < count {
        plates.extend(icon(&icons[at % icons.len()], plates.len()));
        // Icons beside one another are alike.
        at += 37;
        assert!(at < first + 37 * (4 * count + 8), "too few icons are proven unbroken");
    }
    plates
}

/// Two small plates that are quickly proven.
pub(crate) fn quick() -> Vec<Plate> {
    let icons = icons();
    let named = |name: &str, form| icon(icons.iter().find(|i| i.0 == name).unwrap(), form).unwrap();
    vec![named("HiWindowSolidLg", 0), named("HiEnvelopeSolidLg", 2)]
}

fn icon((name, view, data): &(String, String, String), form: usize) -> Option<Plate> {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("plate.toml");
    fs::write(&file, plate_file(form)).unwrap();
    fs::write(dir.path().join("icon.svg"), drawing(view, data)).unwrap();
    plan(name, &file, Settings { pitch: 0.02, picture_pitch: 1.0 }, 0.1)
}

impl Plate {
    /// Asks the prover.
    pub(crate) fn prove(&self, shop: &Shop, intent: &Intent, programs: &[(String, String)]) -> Proof {
        proof::prove(shop, intent, &packet::texts(programs), &self.settings, &()).unwrap()
    }
}
