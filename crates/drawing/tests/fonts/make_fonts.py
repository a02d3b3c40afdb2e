"""Makes the small fonts beside it: every outline, advance and kerning pair in them is chosen here, so the tests know it.

Needs fontTools (`pip install fonttools`); run it in this folder. The fonts are made whole, from nothing else.
"""

import io
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTCollection, TTFont, newTable
from fontTools.ttLib.tables._k_e_r_n import KernTable_format_0
from fontTools.ttLib.tables.TupleVariation import TupleVariation

CAP = 700
GLYPHS = {  # name: (character, advance)
    ".notdef": (None, 500), "space": (" ", 300), "H": ("H", 600), "A": ("A", 600), "V": ("V", 600), "O": ("O", 800),
    "X": ("X", 600), "f": ("f", 300), "i": ("i", 200), "m": ("m", 500), "acute": ("\u0301", 0), "f_i": (None, 520),
    "alef": ("\u05d0", 400), "bet": ("\u05d1", 500), "one": ("1", 400), "zwnj": ("\u200c", 0),
}


def box(pen, x, y, w, h):
    pen.moveTo((x, y))
    for p in [(x, y + h), (x + w, y + h), (x + w, y)]:  # clockwise: ink, as TrueType draws
        pen.lineTo(p)
    pen.closePath()


def ring(pen, x, y, r, cubic, ink):
    """A round of four curves; the quadratic one has its control points in the corners."""
    k = 0.5523 * r
    corners = [(0, r), (r, 0), (0, -r), (-r, 0)]
    corners = corners if ink else corners[::-1]
    pen.moveTo((x + corners[0][0], y + corners[0][1]))
    for i in range(4):
        (ax, ay), (bx, by) = corners[i], corners[(i + 1) % 4]
        if cubic:
            lead = lambda px, py, qx, qy: (x + px + qx / r * k, y + py + qy / r * k)
            pen.curveTo(lead(ax, ay, bx, by), lead(bx, by, ax, ay), (x + bx, y + by))
        else:
            pen.qCurveTo((x + ax + bx, y + ay + by), (x + bx, y + by))
    pen.closePath()


def triangle(pen, points):
    pen.moveTo(points[0])
    for p in points[1:]:
        pen.lineTo(p)
    pen.closePath()


def draw(name, pen, cubic, stem=100):
    if name == ".notdef":
        box(pen, 50, 0, 400, 700)
    elif name == "H":
        box(pen, 50, 0, stem, CAP), box(pen, 550 - stem, 0, stem, CAP), box(pen, 50, 300, 500, 100)
    elif name == "A":
        triangle(pen, [(0, 0), (300, CAP), (600, 0)])
    elif name == "V":
        triangle(pen, [(0, CAP), (600, CAP), (300, 0)])
    elif name == "O":
        ring(pen, 400, 350, 350, cubic, True), ring(pen, 400, 350, 200, cubic, False)
    elif name == "X":
        box(pen, 50, 300, 500, 100), box(pen, 250, 0, 100, CAP)
    elif name == "f":
        box(pen, 100, 0, 100, CAP)
    elif name == "i":
        box(pen, 50, 0, 100, 500), box(pen, 50, 600, 100, 100)
    elif name == "m":
        box(pen, -50, 200, 600, 100)
    elif name == "acute":
        box(pen, -350, 750, 100, 100)
    elif name == "f_i":
        box(pen, 100, 0, 100, CAP), box(pen, 350, 0, 100, 500)
    elif name == "alef":
        box(pen, 50, 0, 300, CAP)
    elif name == "bet":
        box(pen, 50, 0, 400, 600)
    elif name == "one":
        box(pen, 150, 0, 100, CAP)


FEATURES = """
languagesystem DFLT dflt;
languagesystem latn dflt;
feature kern { pos A V -150; } kern;
feature liga { sub f i by f_i; } liga;
"""


def font(family, cubic=False, cap=CAP, os2=4, without=(), stem=100, features=FEATURES):
    names = [n for n in GLYPHS if n not in without]
    fb = FontBuilder(1000, isTTF=not cubic)
    fb.setupGlyphOrder(names)
    fb.setupCharacterMap({ord(GLYPHS[n][0]): n for n in names if GLYPHS[n][0]})
    if cubic:
        strings = {}
        for n in names:
            pen = T2CharStringPen(GLYPHS[n][1], None)
            draw(n, pen, True)
            strings[n] = pen.getCharString()
        fb.setupCFF(family, {}, strings, {})
    else:
        glyphs = {}
        for n in names:
            pen = TTGlyphPen(None)
            draw(n, pen, False, stem)
            glyphs[n] = pen.glyph()
        fb.setupGlyf(glyphs)
    fb.setupHorizontalMetrics({n: (GLYPHS[n][1], 0) for n in names})
    fb.setupHorizontalHeader(ascent=800, descent=-200)
    fb.setupNameTable({"familyName": family, "styleName": "Regular", "psName": family.replace(" ", "")})
    fb.setupOS2(version=os2, **({"sCapHeight": cap} if os2 > 1 else {}))
    fb.setupPost()
    if features:
        fb.addOpenTypeFeatures(features)
    fb.font["head"].created = fb.font["head"].modified = 0
    fb.font.recalcTimestamp = False
    return fb


def kept(fb, name):
    fb.font.save(name)


kept(font("Planted"), "planted.ttf")
kept(font("Planted Cubic", cubic=True), "planted-cubic.otf")
kept(font("Planted Unstated", os2=1), "unstated.ttf")
kept(font("Planted Wrong", cap=1400), "wrong-cap.ttf")
kept(font("Planted Bare", os2=1, without=("H",)), "no-h.ttf")

old = font("Planted Old", features=None)
table = KernTable_format_0()
table.coverage, table.kernTable, table.version = 1, {("A", "V"): -150}, 0
old.font["kern"] = newTable("kern")
old.font["kern"].version, old.font["kern"].kernTables = 0, [table]
kept(old, "kern-table.ttf")

varied = font("Planted Varied")
varied.setupFvar([("wght", 400, 400, 900, "Weight")], [])
n = len(varied.font["glyf"]["H"].coordinates) + 4
varied.setupGvar({"H": [TupleVariation({"wght": (0, 1, 1)}, [(50, 0)] * n)]})
kept(varied, "varied.ttf")

hollow = font("Planted Hollow")
for tag in ("glyf", "loca"):
    del hollow.font[tag]
hollow.font["maxp"].tableVersion = 0x00005000
kept(hollow, "hollow.ttf")

pair = TTCollection()
for fb in (font("Planted One"), font("Planted Two", stem=200)):
    data = io.BytesIO()
    fb.font.save(data)
    data.seek(0)
    pair.fonts.append(TTFont(data, recalcTimestamp=False))
pair.save("pair.ttc")
