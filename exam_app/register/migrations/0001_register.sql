-- The register: what stations of one network keep together. See REGISTER.md.
-- Sealed with the register's data key: row, body, content, who. All else is clear.

CREATE SCHEMA register;

CREATE SEQUENCE register.change AS bigint;

CREATE TABLE register.about (
    is_one boolean PRIMARY KEY DEFAULT true CHECK (is_one),
    register_id bytea NOT NULL CHECK (octet_length(register_id) = 16),
    is_demo boolean NOT NULL
);

CREATE TABLE register.clinic (
    clinic integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    code text NOT NULL UNIQUE
);

CREATE TABLE register.station (
    station text PRIMARY KEY,
    role name NOT NULL UNIQUE,
    clinic integer NOT NULL REFERENCES register.clinic,
    agreement_key bytea NOT NULL CHECK (octet_length(agreement_key) = 32),
    admitted timestamptz NOT NULL DEFAULT now(),
    revoked timestamptz
);

CREATE TABLE register.data_key (
    epoch smallint PRIMARY KEY,
    made timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE register.wrapped_key (
    epoch smallint REFERENCES register.data_key ON DELETE CASCADE,
    station text REFERENCES register.station,
    sealed bytea NOT NULL,
    PRIMARY KEY (epoch, station)
);

-- By the role that logged in: SET ROLE and settings of a session change nothing.
CREATE FUNCTION register.my_clinic() RETURNS integer
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT clinic FROM register.station
          WHERE role = session_user AND revoked IS NULL $$;

CREATE FUNCTION register.my_station() RETURNS text
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT station FROM register.station
          WHERE role = session_user AND revoked IS NULL $$;

-- Every document but closed exams, by its kind: a table of the store in a folder.
CREATE TABLE register.document (
    clinic integer NOT NULL REFERENCES register.clinic,
    kind text NOT NULL,
    id text NOT NULL,
    place bigint NOT NULL,
    version bigint NOT NULL,
    ref text,
    number integer,
    terms bigint[],
    "row" bytea NOT NULL,
    body bytea,
    PRIMARY KEY (clinic, kind, id)
);
ALTER TABLE register.document
    ALTER "row" SET STORAGE EXTERNAL, ALTER body SET STORAGE EXTERNAL;
CREATE INDEX document_ref ON register.document (clinic, kind, ref, number)
    WHERE ref IS NOT NULL;
CREATE INDEX document_newest ON register.document (clinic, place)
    WHERE kind = 'incoming';
CREATE INDEX document_terms ON register.document USING gin (terms)
    WITH (gin_pending_list_limit = 256) WHERE kind = 'animals';

-- Closed exams, in a partition for each month in which they came by this server's
-- clock; a key beside them says which month, and makes each id one.
CREATE TABLE register.record (
    clinic integer NOT NULL,
    id text NOT NULL,
    month date NOT NULL,
    place bigint NOT NULL,
    exam_id text NOT NULL,
    animal_id text NOT NULL,
    group_exam text NOT NULL,
    record_hash text NOT NULL,
    device_id text NOT NULL,
    day date,
    species text NOT NULL,
    class smallint NOT NULL,
    is_received boolean NOT NULL,
    is_acknowledged boolean NOT NULL,
    "row" bytea NOT NULL,
    body bytea NOT NULL,
    PRIMARY KEY (clinic, id, month)
) PARTITION BY RANGE (month);
ALTER TABLE register.record
    ALTER "row" SET STORAGE EXTERNAL, ALTER body SET STORAGE EXTERNAL;
CREATE INDEX record_place ON register.record (clinic, place);
CREATE INDEX record_animal ON register.record (clinic, animal_id, place);
CREATE INDEX record_group ON register.record (clinic, group_exam, place)
    WHERE group_exam <> '';
CREATE INDEX record_own ON register.record (clinic, place) WHERE NOT is_received;
CREATE INDEX record_review ON register.record (clinic, class, place DESC)
    WHERE is_received AND NOT is_acknowledged;
CREATE TABLE register.record_other PARTITION OF register.record DEFAULT;

CREATE TABLE register.record_key (
    clinic integer NOT NULL,
    id text NOT NULL,
    exam_id text NOT NULL,
    month date NOT NULL,
    version bigint NOT NULL,
    PRIMARY KEY (clinic, id)
);
CREATE INDEX record_key_exam ON register.record_key (clinic, exam_id);
CREATE INDEX record_key_month ON register.record_key (month);

CREATE FUNCTION register.this_month() RETURNS date
    LANGUAGE sql STABLE SET search_path = pg_catalog
    AS $$ SELECT date_trunc('month', now() AT TIME ZONE 'UTC')::date $$;

-- Make the partition of a month, unless it is there or lies far away.
CREATE FUNCTION register.make_month(wanted date) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
    first date := date_trunc('month', wanted)::date;
    next date := (date_trunc('month', wanted) + interval '1 month')::date;
    named text := 'record_' || to_char(wanted, 'YYYY_MM');
BEGIN
    IF first < register.this_month() - interval '20 years'
        OR first > register.this_month() + interval '3 months' THEN
        RAISE EXCEPTION 'no month to keep records of' USING ERRCODE = '22023';
    END IF;
    IF to_regclass('register.' || named) IS NULL THEN
        PERFORM pg_advisory_xact_lock(7091, 1);
        EXECUTE format('CREATE TABLE IF NOT EXISTS register.%I
            PARTITION OF register.record FOR VALUES FROM (%L) TO (%L)',
            named, first, next);
    END IF;
END $$;
SELECT register.make_month((register.this_month() + n * interval '1 month')::date)
FROM generate_series(0, 2) AS n;

-- Sealed photographs by their keyed name.
CREATE TABLE register.picture (
    clinic integer NOT NULL REFERENCES register.clinic,
    name text NOT NULL,
    content bytea NOT NULL,
    PRIMARY KEY (clinic, name)
);
ALTER TABLE register.picture ALTER content SET STORAGE EXTERNAL;

-- Sealed hand-overs that wait for a worker, as devices sealed them.
CREATE TABLE register.spooled (
    clinic integer NOT NULL REFERENCES register.clinic,
    job bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    bundle_hash text NOT NULL,
    content bytea NOT NULL,
    came timestamptz NOT NULL DEFAULT now(),
    state text NOT NULL DEFAULT 'waiting'
        CHECK (state IN ('waiting', 'taken', 'apart')),
    tries smallint NOT NULL DEFAULT 0,
    not_before timestamptz NOT NULL DEFAULT now(),
    taken_by bigint,
    taken_until timestamptz,
    reason text NOT NULL DEFAULT '',
    UNIQUE (clinic, bundle_hash)
);
ALTER TABLE register.spooled ALTER content SET STORAGE EXTERNAL;
CREATE INDEX spooled_waiting ON register.spooled (clinic, job)
    WHERE state = 'waiting';

-- Who has a record open, until when unless it is said again.
CREATE TABLE register.reading (
    clinic integer NOT NULL REFERENCES register.clinic,
    exam_id text NOT NULL,
    station text NOT NULL REFERENCES register.station,
    who bytea NOT NULL,
    until timestamptz NOT NULL,
    PRIMARY KEY (clinic, exam_id, station)
);

-- Animals that one clinic of the network lets another one read.
CREATE TABLE register.handed (
    clinic integer NOT NULL REFERENCES register.clinic,
    animal_id text NOT NULL,
    to_clinic integer NOT NULL REFERENCES register.clinic,
    when_handed timestamptz NOT NULL DEFAULT now(),
    "keys" bytea NOT NULL,
    PRIMARY KEY (clinic, animal_id, to_clinic)
);

-- Animals whose terms hold all, or bear one, of the given blind values. Functions,
-- since under row security no index of arrays would be used.
CREATE FUNCTION register.animals_with(wanted bigint[], most integer)
    RETURNS TABLE (id text, place bigint, version bigint, "row" bytea)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT d.id, d.place, d.version, d."row" FROM register.document d
          WHERE d.kind = 'animals' AND d.clinic = register.my_clinic()
          AND d.terms @> wanted LIMIT most $$;

-- How a word begins may be true of most animals: some thousands are enough.
CREATE FUNCTION register.animals_beginning(wanted bigint, most integer)
    RETURNS TABLE (id text, place bigint, version bigint, "row" bytea)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    SET gin_fuzzy_search_limit = 5000
    AS $$ SELECT d.id, d.place, d.version, d."row" FROM register.document d
          WHERE d.kind = 'animals' AND d.clinic = register.my_clinic()
          AND d.terms @> ARRAY[wanted] LIMIT most $$;

CREATE FUNCTION register.animals_marked(wanted bigint[])
    RETURNS TABLE (id text, terms bigint[])
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT d.id, d.terms FROM register.document d
          WHERE d.kind = 'animals' AND d.clinic = register.my_clinic()
          AND d.terms && wanted ORDER BY d.place $$;

-- Drop a month of records with what stands beside them. For the owner alone.
CREATE FUNCTION register.drop_month(wanted date) RETURNS bigint
    LANGUAGE plpgsql SET search_path = pg_catalog AS $$
DECLARE
    first date := date_trunc('month', wanted)::date;
    named text := 'record_' || to_char(wanted, 'YYYY_MM');
    gone bigint;
BEGIN
    IF first >= register.this_month() THEN
        RAISE EXCEPTION 'this month is not over' USING ERRCODE = '22023';
    END IF;
    CREATE TEMPORARY TABLE going ON COMMIT DROP AS
        SELECT clinic, id, exam_id FROM register.record_key WHERE month = first;
    DELETE FROM register.record_key WHERE month = first;
    GET DIAGNOSTICS gone = ROW_COUNT;
    DELETE FROM register.document d USING pg_temp.going g
        WHERE d.clinic = g.clinic AND d.kind IN ('owner_blocks', 'revised')
        AND d.id = g.id;
    DELETE FROM register.document d USING pg_temp.going g
        WHERE d.clinic = g.clinic AND d.kind IN ('notes', 'private_blocks')
        AND d.ref = g.exam_id AND NOT EXISTS (SELECT FROM register.record_key k
            WHERE k.clinic = g.clinic AND k.exam_id = g.exam_id);
    EXECUTE format('DROP TABLE IF EXISTS register.%I', named);
    RETURN gone;
END $$;
REVOKE EXECUTE ON FUNCTION register.drop_month(date) FROM PUBLIC;
