-- Roles and row rules for a Tenthwise archive on PostgreSQL 14 or newer.
--
-- Run it in the archive's database, as an administrator of the server, after the archive was made, and again
-- after every `tenthwise archive upgrade`. Running it again changes nothing else. docs/archive.md shows how.
--
--   tenthwise_station      takes sessions: adds records in chains of its own, ends its sessions, changes nothing else
--   tenthwise_supervisor   besides: keeps people, settings, keys, statements and imports
--   tenthwise_keeper       owns the tables: upgrades, backs up, moves; what it changed is found by `archive check`
--   tenthwise_statistics   reads tallies and the names and dates that a team view needs; no answer, no act
--
-- None of the four may log in; give each to logins of its members: GRANT tenthwise_station TO bench_3.
-- Every station needs a login of its own: a chain belongs to the login that wrote its first act.

BEGIN;

DO $$
DECLARE role_name text;
BEGIN
    FOREACH role_name IN ARRAY ARRAY[
        'tenthwise_station', 'tenthwise_supervisor', 'tenthwise_keeper', 'tenthwise_statistics']
    LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = role_name) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN', role_name);
        END IF;
    END LOOP;
END $$;

-- Whose chain it is. The table stands in a schema of its own, apart from the archive, and is not copied with it.

CREATE SCHEMA IF NOT EXISTS tenthwise_roles;
REVOKE ALL ON SCHEMA tenthwise_roles FROM PUBLIC;
CREATE TABLE IF NOT EXISTS tenthwise_roles.owners (
    chain text COLLATE "C" PRIMARY KEY,
    login name NOT NULL
);
REVOKE ALL ON tenthwise_roles.owners FROM PUBLIC;

-- True for a chain of the login's own.
CREATE OR REPLACE FUNCTION tenthwise_roles.own(asked text) RETURNS boolean
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT EXISTS (SELECT FROM tenthwise_roles.owners WHERE chain = asked AND login = session_user)
$$;

-- True for a chain of the login's own and for one that nobody has begun.
CREATE OR REPLACE FUNCTION tenthwise_roles.own_or_new(asked text) RETURNS boolean
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT tenthwise_roles.own(asked) OR NOT (
        EXISTS (SELECT FROM tenthwise_roles.owners WHERE chain = asked)
        OR EXISTS (SELECT FROM public.chains WHERE chain = asked)
    )
$$;

CREATE OR REPLACE FUNCTION tenthwise_roles.claim() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tenthwise_roles.owners (chain, login) VALUES (NEW.chain, session_user) ON CONFLICT DO NOTHING;
    RETURN NULL;
END $$;

-- A chain's head only goes forward, and by the acts that are there.
CREATE OR REPLACE FUNCTION tenthwise_roles.forward() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.chain <> OLD.chain OR NEW.seq < OLD.seq OR NOT EXISTS (
        SELECT FROM public.acts a WHERE a.chain = NEW.chain AND a.seq = NEW.seq AND a.hash = NEW.hash
    ) THEN
        RAISE EXCEPTION 'a chain of acts goes forward only' USING ERRCODE = '42501';
    END IF;
    RETURN NEW;
END $$;

-- For the keeper: give a chain that was begun before these rules to the login of its station.
CREATE OR REPLACE FUNCTION tenthwise_roles.give(given text, to_login name) RETURNS void
LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO tenthwise_roles.owners (chain, login) VALUES (given, to_login)
    ON CONFLICT (chain) DO UPDATE SET login = EXCLUDED.login
$$;

REVOKE ALL ON ALL FUNCTIONS IN SCHEMA tenthwise_roles FROM PUBLIC;
GRANT USAGE ON SCHEMA tenthwise_roles TO tenthwise_station, tenthwise_supervisor, tenthwise_keeper;
GRANT EXECUTE ON FUNCTION tenthwise_roles.own(text), tenthwise_roles.own_or_new(text), tenthwise_roles.forward(),
    tenthwise_roles.claim() TO tenthwise_station, tenthwise_supervisor, tenthwise_keeper;
GRANT EXECUTE ON FUNCTION tenthwise_roles.give(text, name) TO tenthwise_keeper;

DROP TRIGGER IF EXISTS tenthwise_claim ON public.chains;
CREATE TRIGGER tenthwise_claim AFTER INSERT ON public.chains
    FOR EACH ROW EXECUTE FUNCTION tenthwise_roles.claim();
DROP TRIGGER IF EXISTS tenthwise_forward ON public.chains;
CREATE TRIGGER tenthwise_forward BEFORE UPDATE ON public.chains
    FOR EACH ROW EXECUTE FUNCTION tenthwise_roles.forward();

-- Ownership, and nothing for anybody who has no role.

REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO tenthwise_station, tenthwise_supervisor, tenthwise_statistics;
GRANT USAGE, CREATE ON SCHEMA public TO tenthwise_keeper;

DO $$
DECLARE found record;
BEGIN
    FOR found IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' LOOP
        EXECUTE format('REVOKE ALL ON public.%I FROM PUBLIC, tenthwise_station, tenthwise_supervisor, '
                       'tenthwise_statistics', found.tablename);
        EXECUTE format('ALTER TABLE public.%I OWNER TO tenthwise_keeper', found.tablename);
        EXECUTE format('ALTER TABLE public.%I ENABLE ROW LEVEL SECURITY', found.tablename);
        EXECUTE format('GRANT SELECT ON public.%I TO tenthwise_station, tenthwise_supervisor', found.tablename);
        EXECUTE format('DROP POLICY IF EXISTS tenthwise_read ON public.%I', found.tablename);
        EXECUTE format('CREATE POLICY tenthwise_read ON public.%I FOR SELECT '
                       'TO tenthwise_station, tenthwise_supervisor USING (true)', found.tablename);
    END LOOP;
END $$;

-- What stations and supervisors may add. Nobody but the keeper may change or delete an answer, an item or an act.

GRANT INSERT ON public.chains, public.acts, public.people, public.sessions, public.items, public.answers,
    public.tallies, public.documents TO tenthwise_station, tenthwise_supervisor;
GRANT UPDATE (seq, hash, last_at) ON public.chains TO tenthwise_station, tenthwise_supervisor;
GRANT UPDATE (ended_at, ended_how, end_chain, end_seq) ON public.sessions
    TO tenthwise_station, tenthwise_supervisor;
GRANT UPDATE ON public.people TO tenthwise_supervisor;
GRANT INSERT, DELETE ON public.settings TO tenthwise_supervisor;

DROP POLICY IF EXISTS tenthwise_begin ON public.chains;
CREATE POLICY tenthwise_begin ON public.chains FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own_or_new(chain));
DROP POLICY IF EXISTS tenthwise_move ON public.chains;
CREATE POLICY tenthwise_move ON public.chains FOR UPDATE TO tenthwise_station, tenthwise_supervisor
    USING (tenthwise_roles.own(chain)) WITH CHECK (tenthwise_roles.own(chain));

DROP POLICY IF EXISTS tenthwise_station_acts ON public.acts;
CREATE POLICY tenthwise_station_acts ON public.acts FOR INSERT TO tenthwise_station
    WITH CHECK (tenthwise_roles.own(chain) AND kind IN (
        'session-begun', 'items-dealt', 'answer', 'session-ended', 'note', 'clock-set-back', 'person-added',
        'document', 'wrong-passphrase', 'right-passphrase', 'sheet-made', 'sheet-marked',
        'export', 'backup'));
DROP POLICY IF EXISTS tenthwise_supervisor_acts ON public.acts;
CREATE POLICY tenthwise_supervisor_acts ON public.acts FOR INSERT TO tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(chain)
                AND kind NOT IN ('archive-made', 'archive-copied', 'archive-upgraded'));

DROP POLICY IF EXISTS tenthwise_add ON public.people;
CREATE POLICY tenthwise_add ON public.people FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(chain) AND id = chain || '-' || seq);
DROP POLICY IF EXISTS tenthwise_keep ON public.people;
CREATE POLICY tenthwise_keep ON public.people FOR UPDATE TO tenthwise_supervisor
    USING (true) WITH CHECK (tenthwise_roles.own(chain));

DROP POLICY IF EXISTS tenthwise_add ON public.sessions;
CREATE POLICY tenthwise_add ON public.sessions FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(split_part(id, '-', 1)));
-- A session from a file keeps the name it has there; it comes with its end, which is in the supervisor's chain.
DROP POLICY IF EXISTS tenthwise_from_file ON public.sessions;
CREATE POLICY tenthwise_from_file ON public.sessions FOR INSERT TO tenthwise_supervisor
    WITH CHECK (ended_how IS NOT NULL AND tenthwise_roles.own(end_chain));
DROP POLICY IF EXISTS tenthwise_end ON public.sessions;
CREATE POLICY tenthwise_end ON public.sessions FOR UPDATE TO tenthwise_station, tenthwise_supervisor
    USING (ended_how IS NULL) WITH CHECK (ended_how IS NOT NULL AND tenthwise_roles.own(end_chain));

DROP POLICY IF EXISTS tenthwise_add ON public.items;
CREATE POLICY tenthwise_add ON public.items FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (EXISTS (SELECT FROM public.sessions s WHERE s.id = session
                        AND (s.ended_how IS NULL OR tenthwise_roles.own(split_part(s.id, '-', 1)))));
DROP POLICY IF EXISTS tenthwise_from_file ON public.items;
CREATE POLICY tenthwise_from_file ON public.items FOR INSERT TO tenthwise_supervisor
    WITH CHECK (EXISTS (SELECT FROM public.sessions s WHERE s.id = session AND tenthwise_roles.own(s.end_chain)));
DROP POLICY IF EXISTS tenthwise_add ON public.answers;
CREATE POLICY tenthwise_add ON public.answers FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(chain));
DROP POLICY IF EXISTS tenthwise_add ON public.tallies;
CREATE POLICY tenthwise_add ON public.tallies FOR INSERT TO tenthwise_station, tenthwise_supervisor
    WITH CHECK (EXISTS (SELECT FROM public.sessions s WHERE s.id = session
                        AND s.ended_how IS NOT NULL AND s.person_id = tallies.person_id));

-- Documents are signed by a person's key, which no station holds; a station only carries those of a check.
DROP POLICY IF EXISTS tenthwise_station_add ON public.documents;
CREATE POLICY tenthwise_station_add ON public.documents FOR INSERT TO tenthwise_station
    WITH CHECK (tenthwise_roles.own(chain) AND kind IN ('check', 'check-end', 'attempt'));
DROP POLICY IF EXISTS tenthwise_supervisor_add ON public.documents;
CREATE POLICY tenthwise_supervisor_add ON public.documents FOR INSERT TO tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(chain));

DROP POLICY IF EXISTS tenthwise_put ON public.settings;
CREATE POLICY tenthwise_put ON public.settings FOR INSERT TO tenthwise_supervisor
    WITH CHECK (tenthwise_roles.own(chain));
DROP POLICY IF EXISTS tenthwise_replace ON public.settings;
CREATE POLICY tenthwise_replace ON public.settings FOR DELETE TO tenthwise_supervisor USING (true);

-- The reader of statistics: tallies, and who and when. A team view asks for sessions that are still open, too:
-- it may ask, and no row of items or answers is shown to it.

GRANT SELECT ON public.tenthwise_archive, public.tallies TO tenthwise_statistics;
GRANT SELECT (id, name, name_key, added_at, archived_at) ON public.people TO tenthwise_statistics;
GRANT SELECT (id, person_id, started_at, ended_how) ON public.sessions TO tenthwise_statistics;
GRANT SELECT (session, number, position_tenths) ON public.items TO tenthwise_statistics;
GRANT SELECT (session, number, answer_tenths, outcome) ON public.answers TO tenthwise_statistics;

DO $$
DECLARE table_name text;
BEGIN
    FOREACH table_name IN ARRAY ARRAY['tenthwise_archive', 'tallies', 'people', 'sessions'] LOOP
        EXECUTE format('DROP POLICY IF EXISTS tenthwise_statistics ON public.%I', table_name);
        EXECUTE format('CREATE POLICY tenthwise_statistics ON public.%I FOR SELECT TO tenthwise_statistics '
                       'USING (true)', table_name);
    END LOOP;
END $$;

COMMIT;
