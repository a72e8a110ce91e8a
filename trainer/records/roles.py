"""The SQL of roles and row rules for an archive on PostgreSQL: `python -m trainer.records.roles`."""

from importlib.resources import files


def sql() -> str:
    """Return the statements, to be run by the server's administrator in the archive's database."""
    return files("trainer.records").joinpath("roles.sql").read_text(encoding="utf-8")


if __name__ == "__main__":
    print(sql(), end="")
