== what lacks because of a refused line isn't reported again
G21 G17 G90 G94
G0 X0 Y0 Z5
G1 X1.2.3 F100
G2 X10 I5
X20
G1 X0 Y0 Z1 
G2 X10 I4 
M2
== many faults, each at its line
G21 G17 G90 G94
G0 X0 Y0 Z5 F100
G1 G0 X5
G5 X1
E3
M98
M30
== the end counts even in a refused line
G21 G90
G0 Z5
M30 G5
not run: X1.2.3
== the same undecided thing in many lines is one doubt
G21 G90
/G0 Z5
/G0 Z6
/G0 Z7
M2
== refused and ended in %
%
G21 G90
X5
%
