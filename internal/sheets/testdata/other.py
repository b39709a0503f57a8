"""The other program of the tests: reads a spreadsheet of ours as JSON, or writes one of its own."""

import datetime
import json
import sys

import openpyxl


def read(path):
    book = openpyxl.load_workbook(path)
    sheets = [{"name": s.title, "frozen": s.freeze_panes, "rows": [[c.value for c in row] for row in s], "types": sorted({c.data_type for row in s for c in row if c.value})} for s in book]
    json.dump(sheets, sys.stdout)


def write(path, what):
    book = openpyxl.Workbook()
    s = book.active
    s.title = "heads"
    s.append(["head", "made", "level", "label", "seen"])
    s.append(["M1", datetime.date(2017, 4, 23), 2.1 + 0.8, 17, True])
    s.append(["M2", datetime.datetime(2019, 4, 1), 85, "0017", False])
    s.append([])
    s.append(["M3", "2018", -3.25, "=not a formula", None])
    s["B3"].number_format = "mmm yyyy"
    s["D2"].number_format = "0000"
    s["D5"].data_type = "s"
    if what == "hidden":
        s.row_dimensions[3].hidden = True
    if what == "wrong":
        s["C2"] = "=1+1"
        s["D2"] = "#REF!"
        s.merge_cells("A3:B3")
    if what == "1904":
        book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    if what == "far":
        s.cell(row=1_000_000, column=1, value="x")
    if what == "wide":
        s.cell(row=2, column=16_000, value="x")
    book.save(path)


read(sys.argv[2]) if sys.argv[1] == "read" else write(sys.argv[2], sys.argv[3])
