-- The database of the first release, with one amp in it.
BEGIN TRANSACTION;
CREATE TABLE account_log (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at VARCHAR(32) NOT NULL, 
	who VARCHAR(32) NOT NULL, 
	what VARCHAR(40) NOT NULL, 
	about VARCHAR(200) NOT NULL, 
	address VARCHAR(64) NOT NULL
);
CREATE TABLE accounts (
	id VARCHAR(32) NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	folded VARCHAR(160) NOT NULL, 
	role VARCHAR(16) NOT NULL, 
	password TEXT NOT NULL, 
	closed BOOLEAN NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	changed_at VARCHAR(32) NOT NULL, 
	settings TEXT NOT NULL, 
	CONSTRAINT pk_accounts PRIMARY KEY (id), 
	CONSTRAINT uq_accounts_folded UNIQUE (folded)
);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE api_tokens (
	id VARCHAR(32) NOT NULL, 
	secret VARCHAR(64) NOT NULL, 
	account VARCHAR(32) NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	role VARCHAR(16) NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	ends_at VARCHAR(32) NOT NULL, 
	used_at VARCHAR(32), 
	taken_back_at VARCHAR(32), 
	CONSTRAINT pk_api_tokens PRIMARY KEY (id), 
	CONSTRAINT fk_api_tokens_account_accounts FOREIGN KEY(account) REFERENCES accounts (id), 
	CONSTRAINT uq_api_tokens_secret UNIQUE (secret)
);
CREATE TABLE devices (
	id VARCHAR(32) NOT NULL, 
	secret VARCHAR(64) NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	seen_at VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_devices PRIMARY KEY (id), 
	CONSTRAINT uq_devices_secret UNIQUE (secret)
);
CREATE TABLE dossiers (
	id VARCHAR(32) NOT NULL, 
	number VARCHAR(80) NOT NULL, 
	version INTEGER NOT NULL, 
	state TEXT NOT NULL, 
	maker VARCHAR(80) NOT NULL, 
	model VARCHAR(80) NOT NULL, 
	built VARCHAR(80) NOT NULL, 
	whose VARCHAR(200) NOT NULL, 
	purpose VARCHAR(40) NOT NULL, 
	marks INTEGER NOT NULL, 
	closed BOOLEAN NOT NULL, 
	opened_at VARCHAR(32) NOT NULL, 
	changed_at VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_dossiers PRIMARY KEY (id), 
	CONSTRAINT uq_dossiers_number UNIQUE (number)
);
INSERT INTO "dossiers" VALUES('01M8AJ3R91STM8J1ZTME8K0N8J','TRV-1',2,'{"acknowledged":[],"answers":[],"changed_at":"2026-11-25T23:54:31.592777Z","claim":{"model":"lantern-20"},"closed":false,"head":{"packs":["brackwater"],"purpose":"buy"},"id":"01M8AJ3R91STM8J1ZTME8K0N8J","intake":{},"known":{},"marks":[{"at":"2026-11-25T23:54:31.592777Z","by":"RT","id":"01M8AJ3R98NS5WZVRKK5G4XFRF","n":2,"row":{"kind":"source-date-code","part":"ot","text":"993-348"},"withdrawn":false}],"note":"","number":"TRV-1","opened_at":"2026-03-02T09:00:00.000000Z","parts":[],"photos":[],"repairs":[],"tags":[],"undone":[],"version":2}','','lantern-20','','','buy',1,0,'2026-03-02T09:00:00.000000Z','2026-11-25T23:54:31.592777Z');
CREATE TABLE events (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	stream VARCHAR(32) NOT NULL, 
	n INTEGER NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	who VARCHAR(64) NOT NULL, 
	device VARCHAR(128) NOT NULL, 
	kind VARCHAR(32) NOT NULL, 
	data TEXT NOT NULL, 
	"key" VARCHAR(64) NOT NULL, 
	typed VARCHAR(32), 
	digest VARCHAR(64) NOT NULL, 
	CONSTRAINT uq_events_key UNIQUE ("key"), 
	CONSTRAINT uq_events_stream_n UNIQUE (stream, n)
);
INSERT INTO "events" VALUES(1,'01M8AJ3R91STM8J1ZTME8K0N8J',1,'2026-03-02T09:00:00.000000Z','RT','phone of the bench','opened','{"claim":{"model":"lantern-20"},"number":"TRV-1","packs":["brackwater"],"purpose":"buy"}','01M8AJ3R91STM8J1ZTME8K0N8K',NULL,'44a1dc073bac047eb21298a3265768340f3a90c879b41298648810008a50c350');
INSERT INTO "events" VALUES(2,'01M8AJ3R91STM8J1ZTME8K0N8J',2,'2026-11-25T23:54:31.592777Z','RT','phone of the bench','mark-set','{"mark":"01M8AJ3R98NS5WZVRKK5G4XFRF","row":{"kind":"source-date-code","part":"ot","text":"993-348"}}','01M8AJ3R98NS5WZVRKK5G4XFRG',NULL,'c8ca94bd737fd22039bfd567a173de4d81c38ddbfbe4acec1292eeab39c7efee');
CREATE TABLE links (
	id VARCHAR(32) NOT NULL, 
	secret VARCHAR(64) NOT NULL, 
	purpose VARCHAR(16) NOT NULL, 
	account VARCHAR(32) NOT NULL, 
	role VARCHAR(16) NOT NULL, 
	made_by VARCHAR(32) NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	ends_at VARCHAR(32) NOT NULL, 
	used_at VARCHAR(32), 
	CONSTRAINT pk_links PRIMARY KEY (id), 
	CONSTRAINT fk_links_account_accounts FOREIGN KEY(account) REFERENCES accounts (id), 
	CONSTRAINT uq_links_secret UNIQUE (secret)
);
CREATE TABLE marks (
	dossier VARCHAR(32) NOT NULL, 
	id VARCHAR(64) NOT NULL, 
	part VARCHAR(80) NOT NULL, 
	kind VARCHAR(40) NOT NULL, 
	text TEXT NOT NULL, 
	result VARCHAR(40) NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_marks PRIMARY KEY (dossier, id), 
	CONSTRAINT fk_marks_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id)
);
INSERT INTO "marks" VALUES('01M8AJ3R91STM8J1ZTME8K0N8J','01M8AJ3R98NS5WZVRKK5G4XFRF','ot','source-date-code','993-348','seen',0);
CREATE TABLE photos (
	dossier VARCHAR(32) NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	mark VARCHAR(64), 
	part VARCHAR(80), 
	type VARCHAR(40) NOT NULL, 
	bytes INTEGER NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_photos PRIMARY KEY (dossier, sha256), 
	CONSTRAINT fk_photos_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id)
);
CREATE TABLE search_text (
	id INTEGER NOT NULL, 
	dossier VARCHAR(32) NOT NULL, 
	lines TEXT NOT NULL, 
	body TEXT NOT NULL, 
	CONSTRAINT pk_search_text PRIMARY KEY (id), 
	CONSTRAINT fk_search_text_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id), 
	CONSTRAINT uq_search_text_dossier UNIQUE (dossier)
);
INSERT INTO "search_text" VALUES(1,'01M8AJ3R91STM8J1ZTME8K0N8J','number: TRV-1
claim: lantern-20
ot: 993-348','number trv 1 trv1 claim lantern 20 lantern20 ot 993 348 993348');
CREATE TABLE sessions (
	id VARCHAR(32) NOT NULL, 
	secret VARCHAR(64) NOT NULL, 
	account VARCHAR(32) NOT NULL, 
	device VARCHAR(32) NOT NULL, 
	role VARCHAR(16) NOT NULL, 
	way VARCHAR(16) NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	seen_at VARCHAR(32) NOT NULL, 
	ends_at VARCHAR(32) NOT NULL, 
	ended_at VARCHAR(32), 
	CONSTRAINT pk_sessions PRIMARY KEY (id), 
	CONSTRAINT fk_sessions_account_accounts FOREIGN KEY(account) REFERENCES accounts (id), 
	CONSTRAINT fk_sessions_device_devices FOREIGN KEY(device) REFERENCES devices (id), 
	CONSTRAINT uq_sessions_secret UNIQUE (secret)
);
CREATE TABLE shares (
	id VARCHAR(32) NOT NULL, 
	secret VARCHAR(64) NOT NULL, 
	dossier VARCHAR(32) NOT NULL, 
	label VARCHAR(120) NOT NULL, 
	photos BOOLEAN NOT NULL, 
	made_by VARCHAR(32) NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	ends_at VARCHAR(32) NOT NULL, 
	taken_back_at VARCHAR(32), 
	looked_at INTEGER NOT NULL, 
	last_at VARCHAR(32), 
	CONSTRAINT pk_shares PRIMARY KEY (id), 
	CONSTRAINT fk_shares_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id), 
	CONSTRAINT uq_shares_secret UNIQUE (secret)
);
CREATE TABLE strips (
	dossier VARCHAR(32) NOT NULL, 
	version INTEGER NOT NULL, 
	made_by VARCHAR(80) NOT NULL, 
	says TEXT NOT NULL, 
	sure VARCHAR(16) NOT NULL, 
	first_year INTEGER, 
	mode_year INTEGER, 
	last_year INTEGER, 
	p_mode_year FLOAT, 
	claim_p FLOAT, 
	strip TEXT NOT NULL, 
	CONSTRAINT pk_strips PRIMARY KEY (dossier), 
	CONSTRAINT fk_strips_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id)
);
CREATE TABLE tags (
	dossier VARCHAR(32) NOT NULL, 
	tag VARCHAR(80) NOT NULL, 
	CONSTRAINT pk_tags PRIMARY KEY (dossier, tag), 
	CONSTRAINT fk_tags_dossier_dossiers FOREIGN KEY(dossier) REFERENCES dossiers (id)
);
CREATE TABLE tries (
	what VARCHAR(64) NOT NULL, 
	count INTEGER NOT NULL, 
	last_at VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_tries PRIMARY KEY (what)
);
CREATE INDEX ix_account_log_at ON account_log (at);
CREATE INDEX ix_dossiers_changed_at ON dossiers (changed_at);
CREATE INDEX ix_dossiers_maker ON dossiers (maker, model, closed);
CREATE INDEX ix_dossiers_model ON dossiers (model);
CREATE INDEX ix_api_tokens_account ON api_tokens (account);
CREATE INDEX ix_links_account ON links (account);
CREATE INDEX ix_sessions_account ON sessions (account);
CREATE INDEX ix_shares_dossier ON shares (dossier);
CREATE INDEX ix_tags_tag ON tags (tag);
CREATE VIRTUAL TABLE search USING fts5(body, content='search_text', content_rowid='id', tokenize='unicode61 remove_diacritics 0', prefix='2 3');
INSERT INTO search(search) VALUES('rebuild');
CREATE TRIGGER search_text_in AFTER INSERT ON search_text BEGIN INSERT INTO search(rowid, body) VALUES (new.id, new.body); END;
CREATE TRIGGER search_text_out AFTER DELETE ON search_text BEGIN INSERT INTO search(search, rowid, body) VALUES ('delete', old.id, old.body); END;
CREATE TRIGGER search_text_over AFTER UPDATE ON search_text BEGIN INSERT INTO search(search, rowid, body) VALUES ('delete', old.id, old.body); INSERT INTO search(rowid, body) VALUES (new.id, new.body); END;
COMMIT;
