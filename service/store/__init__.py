"""What is kept on disk when the user asks for it; the only code that writes.

    pictures.py    the marked pictures of one answer, written where the command line is told

    opening.py     `open_store(settings)` -> `Store`: everything below under one roof
    rows.py        what comes out: frozen dataclasses, and the bounds of what may go in
    devices.py     phones and browsers: a secret each, small settings, room used
    boards.py      boards and the outings they belong to
    photos.py      photos of a board, each kept once
    readings.py    answers and their pictures
    shares.py      addresses that show one board's answer to others
    parcel.py      the layout of boards in one file; parcel_out.py writes it, parcel_in.py takes it in
    zip_bounds.py  how much a zip file holds, before it is opened
    sweeping.py    old boards, files without a row, rows without a file

    strip.py       a photo without place, serial numbers and whatever else is not needed
    strip_jpeg.py, strip_chunks.py  the same for the parts of JPEG, and of PNG and WebP
    files.py       contents as files, whole or not at all
    database.py    connections, short transactions, refusals in words
    tables.py      the tables as they are now
    migrating.py   brings a database up to date, with the steps in step_1.py and on

A device sees its own boards alone: every function takes the device's id, and what belongs to another is not there.
Contents are files named for random ids; the database holds the rest. A file is written before its row and removed
after it, so whatever breaks off in between leaves a file that no row knows, which the next sweep removes.
"""
