g21 g90
m5
g4 p0.1
g28
g0 x10 y10
m3 s40
g4 p0.15
g1 x30 y10 f600
x30 y30
x10 y30
x10 y10
m5
g4 p0.1
g0 x0 y0
m2
