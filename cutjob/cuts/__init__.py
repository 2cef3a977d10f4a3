"""What the cutter does: where its centre goes, side by side with the part.

An *outside cut* runs round a part, an *inside cut* round an opening, an *on-line* cut along a mark. A hole of the
cutter's own size is *drilled*, a wider round one *bored*. A *tab* is a bridge left under a part, a *lead-in* the way
into a path, a *ramp* a sloping way down, a *pass* one round at a depth.
"""
