g21 g17 g90 g94
t2
s12000 m3
g0 z6
g0 x10 y10
g1 z-0.3 f200
g2 x10 y10 i5 j0
g0 z6
m5
m2
