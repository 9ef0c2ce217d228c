"""Accepted readings kept for years: Parquet by line and day, with status, notes, coarser levels and a book of imports.

Under the archive's URL, all names quoted as in a web address, days in UTC:

    cells/line=NAME/day=YYYY-MM-DD/ID.parquet    every cell: time, a column a channel, a status column a channel
    coarse/line=NAME/day=YYYY-MM-DD/ID.parquet   least, greatest, mean value and count per 10, 60, 600 s
    book/line=NAME/line.json                     name and cadence
    book/line=NAME/days/YYYY-MM-DD.NUMBER.json   which two files are the day's, its notes, what each import brought
    book/line=NAME/imports/ID.json               which files were imported, with their reading account

Data files are written once under a name of their own. A day is changed by writing new files beside the old ones and
then one small record with the next number: that record is the moment from which the change holds. So nothing has to
be renamed, which object stores cannot do, and a reader sees a day before or after a change, never between.
"""
