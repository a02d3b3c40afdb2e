== undecided-length-unit
G17 G90 G94
G0 X0 Y0 Z5
F100
G1 X1
M2
== undecided-length-unit too late
G17 G90 G94
G0 X0 Y0 Z5
G21
F100
G1 X1
M2
== undecided-arc-plane
G21 G90 G94
G0 X0 Y0 Z5
F100
G2 X10 I5
M2
== undecided-arc-plane a cycle
G21 G90 G94 G98
G0 X0 Y0 Z5
F100
G81 X10 Z1 R5
M2
== undecided-distance-mode
G21 G17 G94
G0 X0 Y0 Z5
M2
== undecided-feed-unit
G21 G17 G90 G94 F100
G0 X0 Y0 Z5
G1 X1
M2
== undecided-skipped-line
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
/G1 X1
M2
== undecided-frame G55
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G55
M2
== undecided-frame G59.3
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G59.3
G1 X1
G54
G1 X1
M2
== undecided-frame G53
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G53 G0 X1
M2
== undecided-frame G92 where the place isn't known
G21 G17 G90 G94
G0 Z5
F100
G92 X1 Y1
G1 X1
M2
== undecided-frame G92 undone, and what was in force before isn't known
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G92 X1
G92.2
G1 X1
M2
== undecided-frame G92.1
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G92.1
M2
== undecided-frame G10
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G10 L2 P1 X1
M2
== undecided-frame a parameter
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
#5221=5
M2
== undecided-reference G28
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G28
M2
== undecided-reference G30
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G30 Z5
M2
== undecided-reference G28 by way of the place where the cutter is
G21 G17 G90 G94
G0 X0 Y0 Z5
G91 G28 Z0
M2
== undecided-cutter-offset
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G41 D1
G1 X1
G40
M2
== undecided-length-offset
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G43 H1
M2
== undecided-probing
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G38.2 Z0
M2
== undecided-cycle
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G98 G85 X1 Z1 R4
M2
== undecided-cycle-start
G21 G17 G90 G94 G98
G0 X0 Y0
F100
G81 X1 Z1 R4
M2
== undecided-return-level
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G81 X1 Z1 R4
M2
== undecided-rotary
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G1 X1 A5
M2
== undecided-rotary alone
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G0 C5
M2
== undecided-step
G21 G91
G0 Z5
M2
== undecided-parameter
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G1 X#5
M2
== undecided-time
G21 G90 G93
G1 X5 F2
M2
== undecided-arc-turn
G21 G17 G90 G94
G0 X0 Y0 Z5
F100
G2 X0.00000001 I0 J5
M2
