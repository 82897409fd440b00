G21 G90
M5
G4 P0.1
G28
G0 X10 Y10 (a remark that goes on and on, well beyond what this controller takes in)
M3 S40
G4 P0.15
G1 X30 Y10 F600
X30 Y30
X10 Y30
X10 Y10
M5
G4 P0.1
G0 X0 Y0
M2
