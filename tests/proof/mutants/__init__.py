"""Proven programs spoiled one thing at a time, to see whether the proof notices.

A *case* is one board of a whole job with its written files, made by the real pipeline and proven. A *kind* is a way to
spoil a case: it changes one file, or which file is which, at a place drawn by a seed. A *mutant* is a case spoiled
once. Whether a mutant *matters* is said by an oracle of its own, which reads the lines and sweeps the cutter with
Shapely, layer by layer, and shares no code with `cutjob.proof`; or by the kind, where it is no matter of geometry.
"""
