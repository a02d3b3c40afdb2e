== a comment of bytes that are no text
(café ÿþ)
G21 G90
G0 X1 (°)
M2
== a mark before the text, and lines that end in two characters
ï»¿G21 G90
G0 X1
M2
