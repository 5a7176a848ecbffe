"""Exports of a session: CSV, JSON, spreadsheet, build sheet, charts."""

from handsfree.export.build_sheet import to_pdf
from handsfree.export.capability import CAUTION, Capability, Sample, bins, capability, facts, plot, samples
from handsfree.export.catalogue import Summary, catalogue, compare, exported, find, has, summarise
from handsfree.export.csv_json import to_csv, to_json
from handsfree.export.hearing import HEARD_CAUTION, HEARD_COLUMNS, heard_rows
from handsfree.export.pictures import DARK, PAPER, picture, pictures_of
from handsfree.export.workbook import to_xlsx

__all__ = [
    "CAUTION",
    "DARK",
    "HEARD_CAUTION",
    "HEARD_COLUMNS",
    "PAPER",
    "Capability",
    "Sample",
    "Summary",
    "bins",
    "capability",
    "catalogue",
    "compare",
    "exported",
    "facts",
    "find",
    "has",
    "heard_rows",
    "picture",
    "pictures_of",
    "plot",
    "samples",
    "summarise",
    "to_csv",
    "to_json",
    "to_pdf",
    "to_xlsx",
]
