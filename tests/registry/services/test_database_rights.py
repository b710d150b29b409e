"""The service's role in PostgreSQL: made by the script that is shipped, it does the work and no more."""

import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import psycopg
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from config.copies import sealing
from config.copies.postgres import tool
from registry.services import database_rights
from tests.copied import ROOT, SEED, Service

SCRIPT = ROOT / "config" / "postgres_roles.sql"
SECRETS = {"POSTGRES_OWNER_PASSWORD": "o' \\ 1", "POSTGRES_SERVICE_PASSWORD": "s' \\ 2"}


@dataclass(frozen=True)
class Made:
    """What the script made, under names of this test: who migrates, and who serves."""

    owner: str
    service: str
    role: str


def address(base: Any, *, user: str, password: str, name: str) -> str:
    quoted = password.replace("'", "%27").replace(" ", "%20").replace("\\", "%5C")
    return f"postgresql://{user}:{quoted}@{base.hostname}:{base.port}/{name}"


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Made]:
    """Run the script that is shipped against the server of the tests, as the owner of its cluster."""
    base, mark = urlsplit(os.environ["HOLDFAST_DATABASE"]), uuid4().hex[:8]
    owner, service, name = f"owner_{mark}", f"service_{mark}", f"rights_{mark}"
    text = SCRIPT.read_text()
    for there, here in {
        "holdfast_owner": owner,
        "holdfast_service": service,
        "DATABASE holdfast": f"DATABASE {name}",
    }.items():
        assert there in text
        text = text.replace(there, here)
    script = tmp_path / "roles.sql"
    script.write_text(text)
    with psycopg.connect(base.geturl(), autocommit=True) as control:
        major = control.info.server_version // 10_000
        words = [str(tool("psql", major)), "-X", "-q", "-f", str(script), base.geturl()]
        subprocess.run(words, env={**os.environ, **SECRETS}, check=True, timeout=60)
        try:
            yield Made(
                address(base, user=owner, password=SECRETS["POSTGRES_OWNER_PASSWORD"], name=name),
                address(
                    base, user=service, password=SECRETS["POSTGRES_SERVICE_PASSWORD"], name=name
                ),
                service,
            )
        finally:
            control.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
            control.execute(f"DROP ROLE IF EXISTS {owner}, {service}")


WORK = f"""
{SEED}
import sys
from django.core.management import call_command
from registry.models import AuditEntry, Patient
builders.person("eraser", north="administrator")
call_command("seal_trail")
key = Patient.objects.first().key
call_command("erase_patient", key, "--yes", "--by", "eraser", "--reason", "asked for by the patient")
blanked = AuditEntry.objects.filter(before__isnull=True, after__isnull=True)
assert blanked.filter(table="registry_identity").exists()
call_command("seal_trail")
call_command("verify_trail")
call_command("verify_records")
call_command("keep_copy", "--to", sys.argv[1], "--for", sys.argv[2])
"""
REFUSED = (
    "DELETE FROM registry_auditentry",
    "TRUNCATE registry_auditentry",
    "UPDATE registry_auditentry SET reason = 'another'",
    "UPDATE registry_auditentry SET before = NULL, after = NULL",
    "ALTER TABLE registry_auditentry DISABLE TRIGGER ALL",
    "DROP TRIGGER trail_keep_delete ON registry_auditentry",
    "SET session_replication_role = replica",
    "CREATE OR REPLACE FUNCTION holdfast_keep_trail() RETURNS trigger LANGUAGE sql AS 'SELECT 1'",
    "DELETE FROM django_migrations",
    "DROP TABLE registry_patient",
    "TRUNCATE registry_patient CASCADE",
    "CREATE TABLE mine (one integer)",
    "CREATE SCHEMA mine",
    "CREATE ROLE mine SUPERUSER",
    "COPY registry_site TO PROGRAM 'cat'",
    "COPY registry_site TO '/tmp/taken'",
    "SELECT pg_read_file('/etc/passwd')",
    "CREATE EXTENSION dblink",
)


@pytest.mark.needs_postgres
def test_the_service_works_as_a_role_that_owns_nothing(made: Made, tmp_path: Path) -> None:
    # A table of which the code knows nothing yet is given like the others.
    with psycopg.connect(made.owner, autocommit=True) as link:
        link.execute("CREATE TABLE registry_later (id integer)")
    owner = Service(tmp_path / "data", made.owner, {"HOLDFAST_SERVICE_ROLE": made.role})
    owner.run("migrate", "-v0")
    at = Service(tmp_path / "data", made.service)
    public = sealing.new_key(tmp_path / "key")
    (tmp_path / "copies").mkdir()
    done = at.run("-c", WORK, str(tmp_path / "copies"), public)
    assert "All " in done.stdout

    with psycopg.connect(made.service, autocommit=True) as link:
        link.execute("INSERT INTO registry_later VALUES (1)")
        for statement in REFUSED:
            with pytest.raises(psycopg.errors.Error) as fault:
                link.execute(statement)
            assert type(fault.value).__name__ in {"InsufficientPrivilege", "RaiseException"}, (
                statement
            )
        query = "SELECT count(*) FROM pg_tables WHERE tableowner = current_user"
        assert link.execute(query).fetchone() == (0,)
    for whose in (made.owner, made.service):
        with psycopg.connect(whose) as link:
            query = (
                "SELECT rolsuper, rolcreaterole, rolcreatedb, rolreplication, rolbypassrls "
                "FROM pg_roles WHERE rolname = current_user"
            )
            assert link.execute(query).fetchone() == (False,) * 5


@pytest.mark.needs_postgres
@pytest.mark.django_db
def test_a_role_that_is_not_there_or_migrates_itself_is_refused_in_words() -> None:
    with pytest.raises(ImproperlyConfigured, match="'nobody', which is no role"):
        database_rights.give(connection, "nobody")
    mine = str(connection.settings_dict["USER"])
    with pytest.raises(ImproperlyConfigured, match="signs in here to migrate"):
        database_rights.give(connection, mine)


@pytest.mark.django_db
def test_without_a_role_nothing_is_asked(counted: Any) -> None:
    with counted() as queries:
        database_rights.give(connection, "")
    assert not queries.captured_queries
