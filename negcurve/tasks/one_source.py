"""A table, or a calibration of the record, but not both."""

from negcurve.errors import InvalidValueError


def check_one_source(table: object, record: str) -> None:
    """Refuse to work with both a table and a record, or with neither."""
    if (table is None) == (not record):
        raise InvalidValueError(
            "name either a table or a calibration of the record",
            where="table",
            fix="Give --table T.json, or --record NAME with --record-dir DIR.",
        )
