"""Files that belong to a job, byte for byte as they were given, and the columns read from them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, BinaryIO, get_args

from sqlalchemy import Connection, RowMapping, Select, delete, func, insert, select

from sparkwright.errors import Refusal
from sparkwright.shop.database import Database, now
from sparkwright.shop.facts import Attachment, AttachmentKind
from sparkwright.shop.files import Content, chunks_of, content_of, write_chunks
from sparkwright.shop.refusals import MOST_FILE_NAME, NotThereError, ShopError, name_given
from sparkwright.shop.revision_rows import job_id_of, require_number
from sparkwright.shop.tables import attachments, columns, jobs

if TYPE_CHECKING:
    import polars

MOST_ATTACHED_BYTES = 2_000_000_000
NO_POLARS = "its columns are read with polars; install it with: pip install 'sparkwright[drives]'"


@dataclass(frozen=True)
class AttachedFiles:
    """The attached files of a store; ``most_bytes`` is the longest that is taken."""

    database: Database
    most_bytes: int = MOST_ATTACHED_BYTES

    def attach(self, key: str, name: str, kind: AttachmentKind, stream: BinaryIO, *, who: str) -> Attachment:
        """Keep a file with a job.

        Parameters
        ----------
        key : str
            The job.
        name : str
            What the file was called, without folders.
        kind : {"readings", "drive", "other"}
            What it is.
        stream : binary stream
            Its bytes, read to the end a piece at a time.
        who : str
            Who gave it.

        Raises
        ------
        Refusal
            If name, kind or who can't stand.
        NotThereError
            If there is no such job.
        ShopError
            If it is longer than the store takes, or the disk is full.
        """
        name, who = file_name_given(name), name_given("who", who)
        if kind not in get_args(AttachmentKind):
            raise Refusal.at("kind", f'"{kind}"', f"must be one of {', '.join(get_args(AttachmentKind))}")
        with self.database.reading() as connection:
            job_id_of(connection, key)
        # Its place it takes in the writer's turn, so that no removal finds it there and not yet named.
        with self.database.files.arriving() as path:
            content = write_chunks(path, chunks_of(stream), most_bytes=self.most_bytes, called=name)
            return self._keep_file(key, name, kind, path, content, who)

    def _keep_file(
        self, key: str, name: str, kind: AttachmentKind, path: Path, content: Content, who: str
    ) -> Attachment:
        with self.database.writing() as connection:
            self.database.files.adopt(path, content)
            done = connection.execute(
                insert(attachments)
                .values(
                    job_id=job_id_of(connection, key),
                    name=name,
                    kind=kind,
                    size=content.size,
                    sha256=content.sha256,
                    attached_at=now(),
                    attached_by=who,
                )
                .returning(attachments.c.id)
            )
            return attachment_of(connection, done.scalar_one())

    def of_job(self, key: str, *, after: int = 0, limit: int | None = None) -> list[Attachment]:
        """Give the files of a job, oldest first; those after the one of a number, and only so many.

        Parameters
        ----------
        key : str
            Key of the job.
        after : int, optional
            Number of the last file that is left out, 0 for none.
        limit : int, optional
            How many at most; None for all.
        """
        with self.database.reading() as connection:
            return attachments_of(connection, key, after=after, limit=limit)

    def count(self, key: str) -> int:
        """Count the files of a job.

        Parameters
        ----------
        key : str
            Key of the job.
        """
        with self.database.reading() as connection:
            of_job = attachments.c.job_id == job_id_of(connection, key)
            found: int = connection.execute(
                select(func.count()).select_from(attachments).where(of_job)
            ).scalar_one()
            return found

    def one(self, attachment_id: int) -> Attachment:
        """Give what is known of one file.

        Parameters
        ----------
        attachment_id : int
            Number of the file.
        """
        with self.database.reading() as connection:
            return attachment_of(connection, attachment_id)

    def open(self, attachment_id: int) -> BinaryIO:
        """Open a file to be read, byte for byte as it was given; the caller closes it.

        Parameters
        ----------
        attachment_id : int
            Number of the file.
        """
        found = self.one(attachment_id)
        return self.database.files.open(found.sha256, found.name)

    def put_columns(self, attachment_id: int, frame: polars.DataFrame) -> None:
        """Keep the columns read from a file, in place of those read before.

        Parameters
        ----------
        attachment_id : int
            Number of the file that they were read from.
        frame : polars.DataFrame
            The columns, a row for each row of the file.
        """
        self.one(attachment_id)
        with self.database.files.arriving() as path:
            frame.write_parquet(path)
            content = content_of(path)
            with self.database.writing() as connection:
                attachment_of(connection, attachment_id)  # it may have been removed meanwhile
                self.database.files.adopt(path, content)
                connection.execute(delete(columns).where(columns.c.attachment_id == attachment_id))
                connection.execute(
                    insert(columns).values(
                        attachment_id=attachment_id, size=content.size, sha256=content.sha256
                    )
                )

    def columns(self, attachment_id: int) -> polars.DataFrame:
        """Give the columns read from a file.

        Parameters
        ----------
        attachment_id : int
            Number of the file that they were read from.

        Raises
        ------
        NotThereError
            If none are kept; they can be read again from the file itself.
        """
        found = self.one(attachment_id)
        with self.database.reading() as connection:
            name: str | None = connection.execute(
                select(columns.c.sha256).where(columns.c.attachment_id == attachment_id)
            ).scalar()
        if name is None:
            raise NotThereError(f"{found.name}: no columns are kept of it; read the file again")
        try:
            import polars
        except ImportError as problem:
            raise ShopError(f"{found.name}: {NO_POLARS}") from problem
        with self.database.files.open(name, found.name) as file:
            try:
                return polars.read_parquet(file)
            except (polars.exceptions.PolarsError, OSError) as problem:
                raise ShopError(f"{found.name}: its columns are damaged; read the file again") from problem


def file_name_given(text: str) -> str:
    """Give the name of a file, or refuse one that leads into folders.

    Parameters
    ----------
    text : str
        Name as it was sent or typed.

    Examples
    --------
    >>> file_name_given("run 3.csv")
    'run 3.csv'
    """
    name = name_given("file name", text, MOST_FILE_NAME)
    if name in (".", "..") or name != PurePosixPath(name).name or name != PureWindowsPath(name).name:
        raise Refusal.at(
            "file name", f'"{name}"', "must be a name without folders", "give its last part only"
        )
    return name


def attachments_of(
    connection: Connection, key: str, *, after: int = 0, limit: int | None = None
) -> list[Attachment]:
    """Give files of a job, as `AttachedFiles.of_job` does.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction it is read.
    key : str
        Key of the job.
    after : int, optional
        Number of the last file that is left out, 0 for none.
    limit : int, optional
        How many at most; None for all.
    """
    of_job = attachments.c.job_id == job_id_of(connection, key)
    wanted = _attachments().where(of_job, attachments.c.id > after)
    rows = connection.execute(wanted.order_by(attachments.c.id).limit(limit))
    return [_attachment(row) for row in rows.mappings()]


def attachment_of(connection: Connection, attachment_id: int) -> Attachment:
    """Give one file.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction it is read.
    attachment_id : int
        Number of the file.
    """
    require_number(attachment_id, "attachment")
    rows = connection.execute(_attachments().where(attachments.c.id == attachment_id))
    row = rows.mappings().first()
    if row is None:
        raise NotThereError(f"there is no attachment {attachment_id}")
    return _attachment(row)


def _attachments() -> Select[Any]:
    return (
        select(attachments, jobs.c.key, columns.c.attachment_id)
        .join(jobs, jobs.c.id == attachments.c.job_id)
        .outerjoin(columns, columns.c.attachment_id == attachments.c.id)
    )


def _attachment(row: RowMapping) -> Attachment:
    return Attachment(
        id=row["id"],
        key=row["key"],
        name=row["name"],
        kind=row["kind"],
        size=row["size"],
        sha256=row["sha256"],
        when=row["attached_at"],
        who=row["attached_by"],
        has_columns=row["attachment_id"] is not None,
    )
