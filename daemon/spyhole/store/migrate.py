"""Bring a record to the tables of this spyhole. Alembic is imported only when there is something to do."""

from collections.abc import Callable
from importlib.resources import as_file, files

from sqlalchemy import Engine

from spyhole.core.refusal import Refusal
from spyhole.store.database import schema_version
from spyhole.store.tables import SCHEMA


def bring_up_to_date(
    engine: Engine, where: str, to: str = SCHEMA, *, before: Callable[[], None] = lambda: None
) -> bool:
    """Apply every migration that is due, all in one transaction; True when there was one.

    Killed half-way the record is as it was. The caller is the one writer.
    where: the record's place, for a person. to: an earlier version's tables, for rows that come from there.
    before: called once it is certain that tables of an earlier version will be changed.
    Refusal for a record of a newer spyhole, and for a file that is none of ours.
    """
    version = schema_version(engine, where)
    if version == to:
        return False

    # 11 MB that the watching process is spared on all days but this.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    with as_file(files("spyhole.store") / "migrations") as scripts:
        config = Config()
        config.set_main_option("script_location", str(scripts).replace("%", "%%"))
        known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
        newer = next((one for one in (version, to) if one is not None and one not in known), None)
        if newer is not None:
            raise Refusal(
                where,
                f"a newer spyhole wrote this record (its tables are at {newer}, this one knows {SCHEMA})",
                "install that version again, or put back the backup made before it was installed",
            )
        if version is not None:
            before()
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, to)
    return True
