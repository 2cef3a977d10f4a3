"""The live job sheet: `cutjob open` serves one page on this computer, the job sheet with every line open to change.

The *text* of the job file is the truth: each change is made in it, written at once, and all else follows from it. A
*look* is what follows at once: lines, mistakes, finished pieces, parts with *handles*. A *plan* comes from the worker:
a first one in a fraction of a second, then the proven one.

    edits      changes of single lines of a text; comments and order stay
    open_job   the file, its versions, the way back; nothing is overwritten that was changed elsewhere
    lines      every key that a job may have, with what it holds, from the models and the designs' parameters
    hand       parts with handles: which point moves with which parameter is found by trying
    look       text to look
    plans      the first plan, and plans as data
    worker     a process of its own that works out the newest text and drops older ones
    desk       all of it for one open job
    server     requests and events, and who may send them
    open_page  port, browser, token
    page/      the page itself: plain HTML, CSS and scripts with types in comments, without a build step

Decisions: the page asks for whole states and puts in only what differs, so that a lost message does no harm. The
server's own process works out looks, so that a dragged value is followed while the worker searches. Pictures are those
of the files' writers; handles lie over them.
"""
