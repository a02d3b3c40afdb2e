== the program that other rooms write
(Kestrel hill)
G21 G17 G90 G94
G40 G49 G80
T1
(dial 3 = 18000 rev/min)
S18000 M3
G4 P3
G0 Z12
G0 X10 Y5
(pass 1: field at 3.2)
G1 Z3.2 F800
G1 X20
G3 X30 Y15 I0 J10
M5
M30
== NISTIR 6556 3.3: spaces and case don't matter
G21 G90
g0x +0. 12 34y 7
M2
== NISTIR 6556 3.3.2.2: a parameter set in a line holds after it
G21 G90 G94
F100
#3=15
#3=6 G1 x#3
G1 X#3
M2
== NISTIR 6556: FIX and FUP
G21 G90
G0 X fix[-2.8] Y fup[-2.8]
M2
== NISTIR 6556 3.5.3.1: a helix by radius
G21 G17 G90 G94
G0 X3 Y1 Z0
F60
g2 x0 r7.01 z0.5
M2
== the same under G93: half a minute along 3.06444 mm (NISTIR 6556 2.1.2.6)
G21 G17 G90 G93
G0 X3 Y1 Z0
F2 g2 x0 r7.01 z0.5
M2
== NISTIR 6556 3.5.3.2: an arc by centre
G21 G17 G90 G94 
G0 X7 Y7 Z1
F100
G2 x10 y16 i3 j4
M2
== NISTIR 6556 3.5.3.2: end = start is a full circle
G21 G17 G90 G94
G0 X7 Y7 Z1
F100
G3 x7 y7 i3 j4
G2 x7 i3 j4
M2
== NISTIR 6556 table 8: F is taken before the units change
G21 G90
G0 X0 Y0 Z0
F50 G20 G1 X1
M2
== NISTIR 6556: F2 under G93 is half a minute
G21 G90 G93
G0 X0 Y0 Z0
G1 X30 Y40 F2
G1 X30 F2
G94
G1 X0 F100
M2
== NISTIR 6556 table 8: speed, cutter, change and spindle come before motion
G21 G90 G94 F100
M3 S9000 T2 M6
T3
M6
F100
G1 X1 S8000 M4
G1 X2 M5
M2
== NISTIR 6556 3.3: percent signs, blank lines, a % instead of M2

%

N10 G21 G90
N10 G0 Z5

%
== percent signs after M30
%
G21 G90
G0 Z5
M30
%
