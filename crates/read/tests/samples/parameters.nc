(a round pocket of turns: centre, radius, depth)
#1=20 #2=15 #3=4
#4=[#3 - 1.5]
G21 G17 G90 G94
T1
S18000 M3
G0 Z5
G0 X[#1 + #4] Y#2
G1 Z0 F300
G3 I[0 - #4] X[#1 + #4] Z[-0.5] F600
#5=[ATAN[3]/[4]]
G1 X[#1 + #4*COS[#5]] Y[#2 + #4*SIN[#5]]
G0 Z5
M5
M2
