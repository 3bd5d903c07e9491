-- Row security by clinic. A station logs in with a role of its own, which is a
-- member of register_station and owns nothing.

DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'register_station') THEN
        CREATE ROLE register_station NOLOGIN;
    END IF;
END $$;

GRANT USAGE ON SCHEMA register TO register_station;
GRANT USAGE ON SEQUENCE register.change TO register_station;
GRANT SELECT ON register.about, register.station, register.clinic,
    register.data_key, register.wrapped_key TO register_station;
GRANT SELECT, INSERT, UPDATE, DELETE ON register.document, register.record,
    register.record_key, register.picture, register.spooled, register.reading,
    register.handed TO register_station;

ALTER TABLE register.station ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.clinic ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.wrapped_key ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.document ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.record ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.record_key ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.picture ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.spooled ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.reading ENABLE ROW LEVEL SECURITY;
ALTER TABLE register.handed ENABLE ROW LEVEL SECURITY;

-- Codes of the network's clinics are no secret among them: one hands to another.
CREATE POLICY listed ON register.clinic FOR SELECT TO register_station
    USING ((SELECT register.my_clinic()) IS NOT NULL);
CREATE POLICY own ON register.station FOR SELECT TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.wrapped_key FOR SELECT TO register_station
    USING (station = (SELECT register.my_station()));
CREATE POLICY own ON register.document TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.record TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.record_key TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.picture TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.spooled TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY own ON register.reading TO register_station
    USING (clinic = (SELECT register.my_clinic()))
    WITH CHECK (clinic = (SELECT register.my_clinic())
        AND station = (SELECT register.my_station()));
CREATE POLICY own ON register.handed TO register_station
    USING (clinic = (SELECT register.my_clinic()));
CREATE POLICY handed_here ON register.handed FOR SELECT TO register_station
    USING (to_clinic = (SELECT register.my_clinic()));

-- What was handed over may be read, and nothing else of that clinic.
CREATE FUNCTION register.handed_here()
    RETURNS TABLE (clinic integer, animal_id text, when_handed timestamptz,
        "keys" bytea)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT h.clinic, h.animal_id, h.when_handed, h."keys"
          FROM register.handed h WHERE h.to_clinic = register.my_clinic()
          ORDER BY h.when_handed $$;

CREATE FUNCTION register.records_handed(from_clinic integer, wanted text)
    RETURNS TABLE (id text, "row" bytea, body bytea)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT r.id, r."row", r.body FROM register.record r
          JOIN register.handed h ON h.clinic = r.clinic AND h.animal_id = r.animal_id
          WHERE r.clinic = from_clinic AND r.animal_id = wanted
          AND h.to_clinic = register.my_clinic() ORDER BY r.place $$;

CREATE FUNCTION register.documents_handed(from_clinic integer, wanted text)
    RETURNS TABLE (kind text, id text, "row" bytea, body bytea)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT d.kind, d.id, d."row", d.body FROM register.document d
          JOIN register.handed h ON h.clinic = d.clinic AND h.animal_id = wanted
          WHERE d.clinic = from_clinic AND h.to_clinic = register.my_clinic()
          AND (d.kind = 'animals' AND d.id = wanted
            OR d.kind = 'owner_blocks' AND d.id IN (SELECT r.id FROM register.record r
                WHERE r.clinic = from_clinic AND r.animal_id = wanted)
            OR d.kind IN ('revised', 'notes') AND d.ref IN (
                SELECT r.exam_id FROM register.record r
                WHERE r.clinic = from_clinic AND r.animal_id = wanted))
          ORDER BY d.place $$;
