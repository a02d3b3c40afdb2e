; a face pass, 22 x 10
;
G21 G17 G90 G94 ; mm, positions
T1
(dial 4 = 21000 rev/min) ; as on the spindle
M3 S21000;clockwise
G0 Z5 ; (a bracket that never closes
G0 X0 Y0
G1 Z-0.1 F250 ;down
G1 X22 F1000
G1 Y10
G0 Z5
M5
M30 ; end
