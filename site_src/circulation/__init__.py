"""A small model of the left heart and the arteries with a balloon in the aorta, for teaching.

It draws pressure traces that show what timing does. It is no patient and predicts none. All values are chosen to give
a heart in shock; `values.py` says where each comes from. Units throughout: mmHg, mL, s.

The package knows nothing of the library or the site: `scene.play` takes a scene and answers with a trace and its
five pressures.
"""
