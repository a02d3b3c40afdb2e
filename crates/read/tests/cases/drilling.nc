== the example of NISTIR 6556 for G81 from (1,2,3), from memory; then one more hole
G21 G17 G90 G94 G98
G0 X1 Y2 Z3
F100
G81 X4 Y5 Z1.5 R2.8
X6
G80
M2
== its example with steps, three times, from memory
G21 G17 G91 G94 G98
G90 G0 X1 Y2 Z3
F100
G91 G81 X4 Y5 Z-0.6 R1.8 L3
M2
== back to the return level
G21 G17 G90 G94 G99
G0 X0 Y0 Z12
F100
G81 X1 Y1 Z0 R7
X2
M2
== from below the return level
G21 G17 G90 G94 G98
G0 X0 Y0 Z3
F100
G81 X1 Y1 Z0 R7
M2
== a dwell at the bottom
G21 G17 G90 G94 G99
G0 X0 Y0 Z12
F100
G82 X1 Y1 Z0 R7 P0.5
M2
== pecks
G21 G17 G90 G94 G98
G0 X0 Y0 Z12
F100
G83 X1 Y1 Z0 R7 Q3
M2
== pecks that come out even, in inches
G20 G17 G90 G94 G99
F4
G0 X0 Y0 Z1
G83 X1 Z0.5 R0.7 Q0.1
M2
== across the other planes
G21 G18 G90 G94 G99
G0 X0 Y10 Z0
F100
G81 X1 Z2 Y5 R8
G19
G0 X12
G81 Y1 Z3 X4 R8
M2
