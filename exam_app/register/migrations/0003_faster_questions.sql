-- What lists, search and review ask, answered alike however much is kept.

-- Whose row security asks this in every statement: its plan is kept by the session.
CREATE OR REPLACE FUNCTION register.my_clinic() RETURNS integer
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ BEGIN
        RETURN (SELECT s.clinic FROM register.station s
            WHERE s.role = session_user AND s.revoked IS NULL);
    END $$;

CREATE OR REPLACE FUNCTION register.my_station() RETURNS text
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ BEGIN
        RETURN (SELECT s.station FROM register.station s
            WHERE s.role = session_user AND s.revoked IS NULL);
    END $$;

-- With the kind first, the planner reads all of a rare kind and compares each ref.
CREATE INDEX document_by_ref ON register.document (clinic, ref, kind, number)
    WHERE ref IS NOT NULL;
DROP INDEX register.document_ref;
-- Of each list it is asked which of its exams were revised, and few ever were.
CREATE INDEX document_revised ON register.document (clinic, ref)
    WHERE kind = 'revised';

-- The clinic is asked once and not for each animal; the plan that uses the index of
-- terms is the only one, and is kept by the session.
DROP FUNCTION register.animals_with(bigint[], integer);
CREATE FUNCTION register.animals_with(wanted bigint[], most integer)
    RETURNS TABLE (id text, place bigint, "row" bytea)
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog
    SET plan_cache_mode = force_generic_plan
    AS $$
DECLARE
    mine integer := register.my_clinic();
BEGIN
    RETURN QUERY SELECT d.id, d.place, d."row" FROM register.document d
        WHERE d.kind = 'animals' AND d.clinic = mine AND d.terms @> wanted LIMIT most;
END $$;

-- How a word begins may be true of most animals: some thousands are enough.
DROP FUNCTION register.animals_beginning(bigint, integer);
CREATE FUNCTION register.animals_beginning(wanted bigint, most integer)
    RETURNS TABLE (id text, place bigint, "row" bytea)
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog
    SET plan_cache_mode = force_generic_plan
    SET gin_fuzzy_search_limit = 5000
    AS $$
DECLARE
    mine integer := register.my_clinic();
BEGIN
    RETURN QUERY SELECT d.id, d.place, d."row" FROM register.document d
        WHERE d.kind = 'animals' AND d.clinic = mine
        AND d.terms @> ARRAY[wanted] LIMIT most;
END $$;

CREATE OR REPLACE FUNCTION register.animals_marked(wanted bigint[])
    RETURNS TABLE (id text, terms bigint[])
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog
    SET plan_cache_mode = force_generic_plan
    AS $$
DECLARE
    mine integer := register.my_clinic();
BEGIN
    RETURN QUERY SELECT d.id, d.terms FROM register.document d
        WHERE d.kind = 'animals' AND d.clinic = mine AND d.terms && wanted
        ORDER BY d.place;
END $$;
