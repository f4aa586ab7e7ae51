"""The third renderer: faces as a yard photographs them, drawn with their truth.

It shares nothing with the measuring, with `analysis.synthetic`, with
`tests.benchmarks.faces`, nor with how any network's patches are drawn. A face is a
plane with hollows of known mouths; light is what reaches each point past its
horizon; the camera adds what lens, sensor and telephone add.

    noise    fields of a given spectrum, specks
    voids    mouths and floors, and where they sit
    surface  form texture and colour
    marks    what is no void: streaks, damp, joints, cracks, leaks, nests
    light    horizons, lamps, skies, light inside pits, gloss
    camera   perspective, focus, sensor, telephone, JPEG
    kinds    the kinds of faces
    draw     one face with its truth
"""
