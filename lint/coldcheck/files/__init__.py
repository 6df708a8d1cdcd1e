"""Files of the user: the one way by which all that is not our own is read and written.

A drawing, its settings and what lies beside them may come from anybody, so what a name leads to is
looked at before it is opened: an ordinary file, of bounded size, that no link moves out of the
repository. Everything may import this room; it imports none.
"""
