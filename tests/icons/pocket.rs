//! The plate file of an icon as a pocket.

/// What a plate file says of an `icon` of at most 60 mm in a blank of 100 mm, as a pocket of 2 mm, with cutters of the
/// starter shop.
pub(crate) fn plate_file(cutters: &str) -> String {
    format!(
        "title = \"icon\"\ndrawing = \"icon.svg\"\nplace = [20, 20]\ncutters = {cutters}\n[blank]\nsize = [100, 100]\n\
         bond = 0.0\nbond_spread = 0.0\nbow = 0.0\nunder = [{{ name = \"card\", thickness = 0.3 }}]\n\
         layers = [{{ sheet = \"night black 3\", measured = [3.0] }}, {{ sheet = \"ruby clear 3\", measured = [3.0] }}]\n\
         measured_total = [6.0]\n[[area]]\non = \"icon\"\nfloor = {{ below_face = 2 }}\n"
    )
}
