== steps
G21 G90 G17 G94
G0 X10 Y10 Z5
F100
G91
G1 X1 Y-1
X1
G2 X2 I1
G90 X5 G1
M2
== inches
G20 G17 G90 G94
F10
G0 X1 Y1 Z1
G1 X2
G3 X2 Y2 J0.5
G21
G0 X0
M2
== the zx plane: G2 turns clockwise seen from positive y, from z to x is counter-clockwise
G21 G18 G90 G94
G0 X0 Y0 Z10
F100
G2 X-10 Z0 K-10 I0
G3 X0 Z10 I10
G3 X10 Z0 R10 Y3
M2
== the yz plane
G21 G19 G90 G94
G0 X0 Y10 Z0
F100
G3 Y0 Z10 J-10
G2 Y10 Z0 R-10 X2
M2
== nothing known at the start
G21 G90 G94
G0 Z10
G0 X1 Y1
M2
== path control, overrides, coolant, stops, messages
G21 G90 G94 G61 G40 G49 G80 G54
(MSG, start) M7 M48
M8
G61.1
G64 M0
M1
M60
M9 M49
G0 X1
M30
== G92 names the place where the cutter is; what follows is told from there, steps and centres are as before
G21 G17 G90 G94
G0 X10 Y20 Z5
F100
G92 X0 Y0
G1 X5
G2 X7 I1
G91 X1 G1
G90
G92 Z15
G1 Z14
G92 X0
G1 X1 Y0
M2
== G92 in inches, and a drilling cycle after it
G20 G17 G90 G94 G98
G0 X1 Y1 Z1
F10
G92 Z0
G81 X2 Z-0.5 R-0.25
X3
M2
== G92 at a height that is all that is known
G21 G90 G94
G0 Z20
G92 Z15
G0 X1 Y1
G0 Z10
M2
== integers within 0.0001 (NISTIR 6556 3.3)
G21.00009 G90 G17 G93.99991
G0 X0 Y0 Z5
F100 T2.00005
G1.00009 X1
M1.99995
== umlauts in a comment, tabs, trailing spaces
(Größe 5 µm)
	G21	G90  
G0 X1	
M2
== semicolons
; a whole line (open
G21 G90 ; dial 2 = 12000 rev/min
G0 X1 ;
M2
== after the end
G21 G90
G0 X1
M30
G0 X2
(dial 2 = 12000 rev/min)
not a program
== an arc whose height isn't known turns at it
G21 G17 G90 G94
G0 X0 Y0
F100
G2 X10 I5
M2
