G21 G90 G94 G17
G0 Z20
G0 X0 Y0
(the zero is taken to a corner that lies 30 to the right)
G0 X30 Y10
G92 X0 Y0
T1 M3 S9000
G0 Z5
G1 Z-0.5 F100
G1 X10 F500
G0 Z20
G0 X-30 Y-10
M5 M2
