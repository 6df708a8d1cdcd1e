"""The picture of a circuit: what is drawn, where it stands, and the wires between.

Data only: symbols on a grid, wires as lines, dots, flags and texts, each with the names it stands
for. ``draw.picture_of`` makes it; the writers in ``report/picture`` turn it into a file.
"""
