(garden label, bed 3)
G21 G90
M5
G4 P0.1
G28
(stroke 1 pen black)
G0 X10 Y10 (upper corner)
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
