"""Draws the demo's artwork: door-plate.svg and door-plate.dxf, the same plate twice.

Lettering: outlines of League Spartan Black (SIL Open Font License 1.1), needs fontTools and the font's file:
    python3 draw.py LeagueSpartan-Black.otf
Everything is in mm on a blank of 230 x 140, y up; the SVG is flipped on the way out.
"""
import math
import sys

from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

WIDTH, HEIGHT = 230.0, 140.0


# A contour: ("circle", x, y, r) or ("path", [("M", p), ("L", p), ("A", p, bulge), ("C", a, b, p)]), closed.
def rounded(x0, y0, x1, y1, r):
    q = math.tan(math.pi / 8)
    return ("path", [
        ("M", (x0 + r, y0)), ("L", (x1 - r, y0)), ("A", (x1, y0 + r), q), ("L", (x1, y1 - r)), ("A", (x1 - r, y1), q),
        ("L", (x0 + r, y1)), ("A", (x0, y1 - r), q), ("L", (x0, y0 + r)), ("A", (x0 + r, y0), q)])


def dome():
    return ("path", [("M", (44, 52)), ("L", (72, 52)), ("L", (72, 56)), ("L", (70, 56)), ("L", (70, 64)),
                     ("A", (46, 64), 1.0), ("L", (46, 56)), ("L", (44, 56)), ("L", (44, 52))])


def slit():
    # A parallel-sided slit from the dome's middle up through its edge, leaning to the right.
    a = math.radians(62)
    ux, uy, h = math.cos(a), math.sin(a), 1.1
    at = lambda along, side: (58 + ux * along - uy * side, 64 + uy * along + ux * side)
    return ("path", [("M", at(3, -h)), ("L", at(14, -h)), ("L", at(14, h)), ("L", at(3, h)), ("L", at(3, -h))])


def crescent():
    # Two arcs between the same tips: the outer goes round most of a circle, the inner comes back.
    tip = lambda s: (72 + 6.2 * math.cos(math.radians(20 + s * 65)), 91 + 6.2 * math.sin(math.radians(20 + s * 65)))
    return ("path", [("M", tip(1)), ("A", tip(-1), math.tan(math.radians(230) / 4)), ("A", tip(1), -math.tan(math.radians(140) / 4))])


def stars():
    dots = []
    # The ecliptic: a row of small dots that swell toward the middle.
    for i in range(19):
        t = i / 18
        dots.append(("circle", 98 + 100 * t, 104.5 + 9 * math.sin(math.pi * t), 0.6 + 0.55 * math.sin(math.pi * t)))
    # Seven stars of a dipper.
    for x, y, r in [(101, 37, 1.5), (111, 40, 1.3), (119.5, 37.5, 1.25), (129, 34, 1.4), (131.5, 25.5, 1.6), (146, 26, 1.35), (147.5, 35.5, 1.7)]:
        dots.append(("circle", x, y, r))
    # A field of faint ones in rows that shift.
    for row in range(3):
        for k in range(5):
            dots.append(("circle", 162 + 8.2 * k + (4.1 if row % 2 else 0), 26 + 6.2 * row, 0.75))
    return dots


def lettering(font, text, x0, x1, baseline):
    glyphs, cmap = font.getGlyphSet(), font.getBestCmap()
    space = font["head"].unitsPerEm * 0.02
    pen_x, outlines = 0.0, []
    for ch in text:
        name = cmap[ord(ch)]
        pen = DecomposingRecordingPen(glyphs)
        glyphs[name].draw(pen)
        outlines.append((pen_x, pen.value))
        pen_x += glyphs[name].width + space
    scale = (x1 - x0) / (pen_x - space)
    contours = []
    for dx, value in outlines:
        at = lambda p: (round(x0 + (dx + p[0]) * scale, 6), round(baseline + p[1] * scale, 6))
        steps = []
        for op, args in value:
            if op == "moveTo":
                steps = [("M", at(args[0]))]
            elif op == "lineTo":
                steps.append(("L", at(args[0])))
            elif op == "curveTo":
                steps.append(("C", at(args[0]), at(args[1]), at(args[2])))
            elif op == "qCurveTo":
                raise SystemExit("a font with cubic outlines is needed")
            elif op == "closePath":
                if steps[-1][-1] != steps[0][1]:
                    steps.append(("L", steps[0][1]))
                contours.append(("path", steps))
    return contours, scale


def f(v):
    return f"{v:.6f}".rstrip("0").rstrip(".")


def svg(layers):
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" width="{f(WIDTH)}mm" height="{f(HEIGHT)}mm" viewBox="0 0 {f(WIDTH)} {f(HEIGHT)}">',
           "  <title>Kestrel Hill Observatory door plate</title>"]
    for name, contours in layers:
        out.append(f'  <g id="{name}" fill="#222" fill-rule="evenodd">')
        data = []
        for c in contours:
            if c[0] == "circle":
                out.append(f'    <circle cx="{f(c[1])}" cy="{f(HEIGHT - c[2])}" r="{f(c[3])}"/>')
                continue
            here, words = None, []
            for s in c[1]:
                p = s[2] if s[0] == "A" and isinstance(s[1], float) else s[1]
                flip = lambda q: f"{f(q[0])} {f(HEIGHT - q[1])}"
                if s[0] == "M":
                    words.append("M" + flip(s[1])); here = s[1]
                elif s[0] == "L":
                    words.append("L" + flip(s[1])); here = s[1]
                elif s[0] == "A":
                    p, bulge = s[1], s[2]
                    chord = math.dist(here, p)
                    r = chord * (1 + bulge * bulge) / (4 * abs(bulge))
                    large = 1 if abs(bulge) > 1 else 0
                    # Counter-clockwise with y up is sweep flag 0 with y down.
                    words.append(f"A{r:.9f} {r:.9f} 0 {large} {0 if bulge > 0 else 1} {flip(p)}"); here = p
                else:
                    words.append("C" + " ".join(flip(q) for q in s[1:])); here = s[3]
            data.append("".join(words) + "Z")
        if data:
            out.append(f'    <path d="{" ".join(data)}"/>')
        out.append("  </g>")
    out.append("</svg>")
    return "\n".join(out) + "\n"


def dxf(layers):
    pairs = []
    put = lambda code, value: pairs.append(f"{code:3d}\n{value}")
    put(0, "SECTION"); put(2, "HEADER"); put(9, "$ACADVER"); put(1, "AC1015"); put(9, "$INSUNITS"); put(70, 4); put(0, "ENDSEC")
    put(0, "SECTION"); put(2, "TABLES"); put(0, "TABLE"); put(2, "LAYER"); put(70, len(layers))
    for name, _ in layers:
        put(0, "LAYER"); put(2, name); put(70, 0); put(62, 7); put(6, "CONTINUOUS")
    put(0, "ENDTAB"); put(0, "ENDSEC")
    put(0, "SECTION"); put(2, "ENTITIES")
    head = lambda kind, name, sub: (put(0, kind), put(8, name), put(100, "AcDbEntity"), put(100, sub))
    for name, contours in layers:
        for c in contours:
            if c[0] == "circle":
                head("CIRCLE", name, "AcDbCircle"); put(10, f(c[1])); put(20, f(c[2])); put(30, 0); put(40, f(c[3]))
                continue
            curved = any(s[0] == "C" for s in c[1])
            if not curved:
                steps = c[1]
                head("LWPOLYLINE", name, "AcDbPolyline"); put(90, len(steps) - 1); put(70, 1)
                for s, nxt in zip(steps, steps[1:]):
                    put(10, f(s[1][0])); put(20, f(s[1][1]))
                    if nxt[0] == "A":
                        put(42, repr(nxt[2]))
                continue
            here = None
            for s in c[1]:
                if s[0] == "L" and s[1] != here:
                    head("LINE", name, "AcDbLine"); put(10, f(here[0])); put(20, f(here[1])); put(30, 0)
                    put(11, f(s[1][0])); put(21, f(s[1][1])); put(31, 0)
                elif s[0] == "C":
                    head("SPLINE", name, "AcDbSpline"); put(70, 8); put(71, 3); put(72, 8); put(73, 4); put(74, 0)
                    for k in (0, 0, 0, 0, 1, 1, 1, 1):
                        put(40, k)
                    for q in (here, *s[1:]):
                        put(10, f(q[0])); put(20, f(q[1])); put(30, 0)
                here = s[-1]
    put(0, "ENDSEC"); put(0, "EOF")
    return "\n".join(pairs) + "\n"


def main():
    font = TTFont(sys.argv[1])
    name, scale = lettering(font, "KESTREL HILL", 97, 201, 80)
    below, scale2 = lettering(font, "OBSERVATORY", 97, 187, 58)
    print(f"units per mm: {scale:.6f} {scale2:.6f}")
    layers = [
        ("outline", [rounded(15, 15, 215, 125, 8)]),
        ("field", [rounded(18.5, 18.5, 211.5, 121.5, 5)]),
        ("sky", [("circle", 58.0, 76.0, 30.0)]),
        ("dome", [dome()]),
        ("slit", [slit()]),
        ("moon", [crescent()]),
        ("name", name + below),
        ("stars", stars()),
        ("screw-holes", [("circle", 23.4, 70.0, 2.15), ("circle", 206.6, 70.0, 2.15)]),
    ]
    open("door-plate.svg", "w").write(svg(layers))
    open("door-plate.dxf", "w").write(dxf(layers))


main()
