BEGIN TRANSACTION;
CREATE TABLE alarms (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	code VARCHAR(32) NOT NULL, 
	severity VARCHAR(16) NOT NULL, 
	cylinder_id INTEGER, 
	device VARCHAR(120), 
	text TEXT NOT NULL, 
	details JSON, 
	raised_at DATETIME NOT NULL, 
	cleared_at DATETIME, 
	acknowledged_at DATETIME, 
	acknowledged_by VARCHAR(120), 
	CONSTRAINT fk_alarms_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_alarms_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0003');
CREATE TABLE care (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	kind VARCHAR(24) NOT NULL, 
	epoch INTEGER NOT NULL, 
	passed BOOLEAN, 
	details JSON NOT NULL, 
	occurred_at DATETIME NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by VARCHAR(120) NOT NULL, 
	CONSTRAINT fk_care_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_care_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
CREATE TABLE "cylinders" (
	id INTEGER NOT NULL, 
	organisation_id INTEGER NOT NULL, 
	serial VARCHAR(64) NOT NULL, 
	place_id INTEGER, 
	marks VARCHAR(200), 
	requalification_stamp VARCHAR(64), 
	water_capacity_kg FLOAT, 
	tare_kg FLOAT, 
	valves JSON, 
	owner VARCHAR(120), 
	notes TEXT, 
	claimed_designation VARCHAR(24), 
	gross_mass_kg FLOAT, 
	gross_mass_at DATETIME, 
	epoch INTEGER DEFAULT '1' NOT NULL, 
	verdict_id INTEGER, 
	version INTEGER DEFAULT '1' NOT NULL, 
	created_at DATETIME NOT NULL, 
	updated_at DATETIME NOT NULL, 
	flammable_marked BOOLEAN DEFAULT 0 NOT NULL, 
	standing VARCHAR(16) DEFAULT 'in-service' NOT NULL, 
	requalification_condition VARCHAR(40), 
	requalification_statement TEXT, 
	requalify_by DATE, 
	service_life_ends DATE, 
	owner_consents BOOLEAN, 
	PRIMARY KEY (id), 
	CONSTRAINT fk_cylinders_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_cylinders_organisation_id_serial UNIQUE (organisation_id, serial), 
	CONSTRAINT fk_cylinders_place_id_places FOREIGN KEY(place_id) REFERENCES places (id)
);
INSERT INTO "cylinders" VALUES(1,1,'F-1',1,'DOT-4BA400',NULL,21.6,12.7,NULL,NULL,NULL,NULL,NULL,NULL,1,1,1,'2026-11-30 10:51:07.445376','2026-11-30 10:51:07.445376',0,'in-service',NULL,NULL,NULL,NULL,NULL);
INSERT INTO "cylinders" VALUES(2,1,'F-2',1,'DOT-4BA400',NULL,21.6,12.7,NULL,NULL,NULL,NULL,NULL,NULL,1,NULL,1,'2026-11-30 10:51:07.628897','2026-11-30 10:51:07.628897',0,'in-service',NULL,NULL,NULL,NULL,NULL);
INSERT INTO "cylinders" VALUES(3,1,'F-3',1,'DOT-4BA400',NULL,21.6,12.7,NULL,NULL,NULL,NULL,NULL,NULL,1,NULL,1,'2026-11-30 10:51:07.729705','2026-11-30 10:51:07.729705',0,'in-service',NULL,NULL,NULL,NULL,NULL);
CREATE TABLE device_credentials (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	device VARCHAR(120) NOT NULL, 
	place_id INTEGER NOT NULL, 
	username VARCHAR(64) NOT NULL, 
	password_hash VARCHAR(300) NOT NULL, 
	issued_at DATETIME NOT NULL, 
	issued_by VARCHAR(120) NOT NULL, 
	revoked_at DATETIME, 
	revoked_by VARCHAR(120), 
	CONSTRAINT fk_device_credentials_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_device_credentials_place_id_places FOREIGN KEY(place_id) REFERENCES places (id), 
	CONSTRAINT uq_device_credentials_username UNIQUE (username)
);
CREATE TABLE devices (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	place VARCHAR(80), 
	last_seen_at DATETIME NOT NULL, 
	readings JSON NOT NULL, 
	probe_lag_s FLOAT, 
	CONSTRAINT fk_devices_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_devices_organisation_id_name UNIQUE (organisation_id, name)
);
CREATE TABLE epochs (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	started_at DATETIME NOT NULL, 
	cause VARCHAR(32) NOT NULL, 
	contents JSON, 
	CONSTRAINT fk_epochs_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_epochs_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_epochs_cylinder_id_number UNIQUE (cylinder_id, number)
);
INSERT INTO "epochs" VALUES(1,1,1,1,'2026-11-30 10:51:07.445376','registered',NULL);
INSERT INTO "epochs" VALUES(2,1,2,1,'2026-11-30 10:51:07.628897','registered',NULL);
INSERT INTO "epochs" VALUES(3,1,3,1,'2026-11-30 10:51:07.729705','registered',NULL);
CREATE TABLE events (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	type VARCHAR(64) NOT NULL, 
	subject VARCHAR(160) NOT NULL, 
	actor VARCHAR(120) NOT NULL, 
	data JSON NOT NULL, 
	CONSTRAINT fk_events_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
INSERT INTO "events" VALUES(1,1,'2026-11-30 10:50:36.898703','heelmark.place.changed','places/shop','system:command-line','{"change": "created", "elevation_m": null}');
INSERT INTO "events" VALUES(2,1,'2026-11-30 10:50:36.918743','heelmark.person.changed','people/1','system:command-line','{"change": "created", "login": "admin", "role": "administrator"}');
INSERT INTO "events" VALUES(3,1,'2026-11-30 10:50:37.826761','heelmark.token.changed','tokens/1','system:command-line','{"change": "created", "name": "technician", "scope": "technician"}');
INSERT INTO "events" VALUES(4,1,'2026-11-30 10:50:37.842663','heelmark.token.changed','tokens/2','system:command-line','{"change": "created", "name": "supervisor", "scope": "supervisor"}');
INSERT INTO "events" VALUES(5,1,'2026-11-30 10:50:37.853947','heelmark.token.changed','tokens/3','system:command-line','{"change": "created", "name": "reader", "scope": "reader"}');
INSERT INTO "events" VALUES(6,1,'2026-11-30 10:50:37.862701','heelmark.token.changed','tokens/4','system:command-line','{"change": "created", "name": "worker", "scope": "worker"}');
INSERT INTO "events" VALUES(7,1,'2026-11-30 10:51:07.445376','heelmark.cylinder.changed','cylinders/F-1','token:technician','{"change": "registered", "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7}');
INSERT INTO "events" VALUES(8,1,'2026-11-30 10:51:07.523935','heelmark.hookup.changed','cylinders/F-1','token:technician','{"change": "attached", "hookup": 1}');
INSERT INTO "events" VALUES(9,1,'2026-11-30 10:51:07.628897','heelmark.cylinder.changed','cylinders/F-2','token:technician','{"change": "registered", "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7}');
INSERT INTO "events" VALUES(10,1,'2026-11-30 10:51:07.657446','heelmark.hookup.changed','cylinders/F-2','token:technician','{"change": "attached", "hookup": 2}');
INSERT INTO "events" VALUES(11,1,'2026-11-30 10:51:07.729705','heelmark.cylinder.changed','cylinders/F-3','token:technician','{"change": "registered", "place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7}');
INSERT INTO "events" VALUES(12,1,'2026-11-30 10:51:07.760553','heelmark.hookup.changed','cylinders/F-3','token:technician','{"change": "attached", "hookup": 3}');
INSERT INTO "events" VALUES(13,1,'2026-11-30 10:51:14.947153','heelmark.pair.recorded','cylinders/F-1','token:worker','{"cylinder": "F-1", "pair": 1, "hookup": 1, "temp_k": 294.32059999999996, "pressure_pa": 589341.0, "provisional": false, "settled_at": "2026-11-30T10:36:20+00:00"}');
INSERT INTO "events" VALUES(14,1,'2026-11-30 10:51:14.947153','heelmark.verdict.reached','cylinders/F-1','token:worker','{"cylinder": "F-1", "verdict": 1, "identity": "narrowed", "designation": "R-134a", "probability": 0.8560297366241726, "contamination": "none-detected", "contents_state": "two-phase", "disposition": "measure-again"}');
CREATE TABLE exchanges (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	received_cylinder_id INTEGER, 
	counterparty VARCHAR(200) NOT NULL, 
	receipt VARCHAR(80) NOT NULL, 
	destination VARCHAR(16) NOT NULL, 
	designation VARCHAR(24), 
	shares JSON NOT NULL, 
	gross_kg FLOAT NOT NULL, 
	net_kg FLOAT NOT NULL, 
	occurred_at DATETIME NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by VARCHAR(120) NOT NULL, 
	technician VARCHAR(120), 
	certification_number VARCHAR(80), 
	note TEXT, 
	CONSTRAINT fk_exchanges_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_exchanges_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_exchanges_received_cylinder_id_cylinders FOREIGN KEY(received_cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT uq_exchanges_organisation_id_counterparty_receipt_cylinder_id UNIQUE (organisation_id, counterparty, receipt, cylinder_id)
);
CREATE TABLE heartbeats (
	process VARCHAR(120) NOT NULL, 
	at DATETIME NOT NULL, 
	CONSTRAINT pk_heartbeats PRIMARY KEY (process)
);
INSERT INTO "heartbeats" VALUES('deliverer','2026-11-30 10:51:17.307633');
CREATE TABLE holds (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	reason TEXT NOT NULL, 
	placed_at DATETIME NOT NULL, 
	placed_by VARCHAR(120) NOT NULL, 
	released_at DATETIME, 
	released_by VARCHAR(120), 
	release_reason TEXT, 
	CONSTRAINT fk_holds_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_holds_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
CREATE TABLE hookups (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	place_id INTEGER NOT NULL, 
	pressure_device VARCHAR(120) NOT NULL, 
	temperature_device VARCHAR(120) NOT NULL, 
	valve VARCHAR(8) NOT NULL, 
	from_at DATETIME NOT NULL, 
	to_at DATETIME, 
	temperature_bias_k FLOAT, 
	pressure_bias_pa FLOAT, 
	probe_lag_s FLOAT, 
	attached_by VARCHAR(120) NOT NULL, 
	detached_by VARCHAR(120), 
	CONSTRAINT fk_hookups_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_hookups_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_hookups_place_id_places FOREIGN KEY(place_id) REFERENCES places (id)
);
INSERT INTO "hookups" VALUES(1,1,1,1,'urn:dev:ops:32473-first-1','urn:dev:ops:32473-first-1','vapour','2026-11-30 10:29:27.000000',NULL,NULL,NULL,NULL,'token:technician',NULL);
INSERT INTO "hookups" VALUES(2,1,2,1,'urn:dev:ops:32473-first-2','urn:dev:ops:32473-first-2','vapour','2026-11-30 10:29:27.000000',NULL,NULL,NULL,NULL,'token:technician',NULL);
INSERT INTO "hookups" VALUES(3,1,3,1,'urn:dev:ops:32473-first-3','urn:dev:ops:32473-first-3','vapour','2026-11-30 10:29:27.000000',NULL,NULL,NULL,NULL,'token:technician',NULL);
CREATE TABLE idempotency (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	"key" VARCHAR(200) NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	status INTEGER, 
	headers TEXT, 
	body BLOB, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_idempotency_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_idempotency_organisation_id_key UNIQUE (organisation_id, "key")
);
INSERT INTO "idempotency" VALUES(1,1,'646952548d0144a186f13861acad1103fa2ddc7d','cfdcaba00e387146ccae26bae5f87fba2996aeea0a5b5292694d56096f5a97bf',201,'{"Content-Type": "application/json"}',X'7B2270616972223A7B226964223A312C2263796C696E646572223A22462D31222C2265706F6368223A312C22686F6F6B7570223A312C2274656D70657261747572655F63223A32312E313730362C2274656D70657261747572655F66223A37302E31303730382C226162736F6C7574655F70726573737572655F6B7061223A3538392E3334312C226162736F6C7574655F70726573737572655F707369223A38352E3437363638352C2267617567655F70726573737572655F6B7061223A3439302E3334312C2267617567655F70726573737572655F707369223A37312E3131373934392C2261746D6F737068657269635F70726573737572655F6B7061223A39392E302C2261746D6F737068657269635F70726573737572655F707369223A31342E3335383733362C2261746D6F737068657269635F70726573737572655F736F75726365223A22756E6B6E6F776E222C2274656D70657261747572655F756E6365727461696E74795F6B223A302E313130342C2270726573737572655F756E6365727461696E74795F6B7061223A302E3030312C2274656D70657261747572655F626961735F756E6365727461696E74795F6B223A302E332C2270726573737572655F626961735F756E6365727461696E74795F6B7061223A332E302C2261746D6F737068657269635F70726573737572655F756E6365727461696E74795F6B7061223A352E302C2270726573737572655F646576696365223A2275726E3A6465763A6F70733A33323437332D66697273742D31222C2274656D70657261747572655F646576696365223A2275726E3A6465763A6F70733A33323437332D66697273742D31222C22736574746C65645F6174223A22323032362D31312D33305431303A33363A32305A222C2266726F6D223A22323032362D31312D33305431303A33303A33305A222C22746F223A22323032362D31312D33305431303A33363A32305A222C2270726F766973696F6E616C223A66616C73652C22726561736F6E73223A5B5D2C226D6173735F6B67223A6E756C6C2C226D6173735F6C62223A6E756C6C2C22616D6269656E745F74656D70657261747572655F63223A6E756C6C2C22616D6269656E745F74656D70657261747572655F66223A6E756C6C2C227265636F726465645F6279223A22746F6B656E3A776F726B6572222C2272656365697665645F6174223A22323032362D31312D33305431303A35313A31342E3934373135335A227D2C2276657264696374223A7B226964656E74697479223A7B2266696E64696E67223A226E6172726F776564222C2263616E64696461746573223A5B7B2264657369676E6174696F6E223A22522D31333461222C2270726F626162696C697479223A302E3835363032393733372C2273617475726174696F6E5F74656D70657261747572655F63223A32302E3938363237372C2273617475726174696F6E5F74656D70657261747572655F66223A36392E3737353239392C2274656D70657261747572655F646966666572656E63655F6B223A302E3138343332332C2274656D70657261747572655F646966666572656E63655F66223A302E3333313738317D2C7B2264657369676E6174696F6E223A22522D3132222C2270726F626162696C697479223A302E3133323539333236312C2273617475726174696F6E5F74656D70657261747572655F63223A32312E3431333830352C2273617475726174696F6E5F74656D70657261747572655F66223A37302E35343438352C2274656D70657261747572655F646966666572656E63655F6B223A2D302E3234333230352C2274656D70657261747572655F646966666572656E63655F66223A2D302E34333737377D5D7D2C22636F6E74616D696E6174696F6E223A7B2266696E64696E67223A226E6F6E652D6465746563746564222C2270726F626162696C6974696573223A7B226E6F6E65223A302E3936353931373732322C22616972223A302E3031383731353630352C2273686966746564223A302E3030303335393838312C226D69786564223A302E3031353030363739337D2C226169725F7061727469616C5F70726573737572655F6B7061223A6E756C6C2C226169725F7061727469616C5F70726573737572655F707369223A6E756C6C2C22616972223A6E756C6C2C22706172746E657273223A5B5D2C22646574656374696F6E5F6C696D697473223A5B7B22636F6E74616D696E616E74223A22616972222C227061727469616C5F70726573737572655F6B7061223A32382E3236323233312C227061727469616C5F70726573737572655F707369223A342E30393930397D2C7B22636F6E74616D696E616E74223A22522D34313041222C226D6173735F6672616374696F6E223A302E3032343231343239317D2C7B22636F6E74616D696E616E74223A22522D3232222C226D6173735F6672616374696F6E223A302E3035343236373935377D2C7B22636F6E74616D696E616E74223A22522D34303441222C226D6173735F6672616374696F6E223A302E3034383731383030327D2C7B22636F6E74616D696E616E74223A22522D34303743222C226D6173735F6672616374696F6E223A302E3035313531383738317D2C7B22636F6E74616D696E616E74223A22522D34353442222C226D6173735F6672616374696F6E223A302E3032323534363437327D2C7B22636F6E74616D696E616E74223A22522D3332222C226D6173735F6672616374696F6E223A302E30313631393439347D2C7B22636F6E74616D696E616E74223A22522D3132222C226D6173735F6672616374696F6E223A302E3035313033343037347D2C7B22636F6E74616D696E616E74223A22522D35303741222C226D6173735F6672616374696F6E223A302E3034363932353530327D2C7B22636F6E74616D696E616E74223A22522D34303741222C226D6173735F6672616374696F6E223A302E3034383431303935367D2C7B22636F6E74616D696E616E74223A22522D34343841222C226D6173735F6672616374696F6E223A302E3034343638363835387D5D7D2C22636F6E74656E74735F7374617465223A7B2266696E64696E67223A2274776F2D7068617365222C2270726F626162696C6974696573223A7B2274776F2D7068617365223A302E3939363934353332352C227661706F75722D6F6E6C79223A302E3030323937353032382C226C69717569642D66756C6C223A372E39363437652D30357D7D2C22646973706F736974696F6E223A7B22636F6465223A226D6561737572652D616761696E222C2274657874223A224D656173757265206F6E6365206D6F7265206265666F726520616E797468696E6720676F657320696E206F72206F75743B2073656520746865206E657874206D6561737572656D656E742E222C2265787065637465645F636F737473223A7B226B656570223A322E3033373039363236372C226D6561737572652D616761696E223A312E3231383838313630332C22686F6C64223A332E3934303237373635392C227265636F7665722D616E642D72656379636C65223A372E33323532313638342C2273656E642D746F2D7265636C61696D6572223A372E3931353831323437342C2273656E642D666F722D6465737472756374696F6E223A32382E3135353530353331357D7D2C22726561736F6E73223A5B2241742032312E32205C753030623043202837302E31205C7530306230462920636C65616E20522D31333461207374616E647320617420353933206B5061202838362E302070736929206162736F6C7574653B207265616420353839206B5061202838352E3520707369293A202D302E3620252C20776F727468202D302E32204B20282D302E33205C753030623046292E222C224E6F7468696E6720656C7365207761732064657465637465643B2074686174206973206E6F2070726F6F66206F66207075726974792C207768696368206F6E6C7920746865206C61626F7261746F727920616E616C79736973206F6620746865207265636C61696D207374616E646172642067697665732E222C224E6F742072756C6564206F75743A20522D31322028302E31332C202D302E32204B20282D302E34205C753030623046292066726F6D20697473206F776E206375727665292E222C223331372C333934206879706F746865736573207765726520776569676865643A203139382064657369676E6174696F6E7320616C6F6E652C2077697468206169722C2077697468207661706F7572206C6F73742C20616E64206D697865642E225D2C226E6578745F6D6561737572656D656E74223A7B22616374696F6E223A225761726D207468652063796C696E64657220746F2061626F7574203435205C7530306230432028313133205C75303062304629207769746820726F6F6D20616972206F72206C756B657761726D2077617465722C206C657420697420736574746C652C207265616420616761696E2E222C22636F6465223A227761726D222C2274656D70657261747572655F63223A34352E302C2274656D70657261747572655F66223A3131332E302C2265787065637465645F696E666F726D6174696F6E5F62697473223A302E3635333834333638352C22616C7465726E617469766573223A5B7B22636F6465223A225761726D207468652063796C696E64657220746F2061626F7574203430205C7530306230432028313034205C75303062304629207769746820726F6F6D20616972206F72206C756B657761726D2077617465722C206C657420697420736574746C652C207265616420616761696E2E222C2265787065637465645F696E666F726D6174696F6E5F62697473223A302E363435377D2C7B22636F6465223A225761726D207468652063796C696E64657220746F2061626F7574203335205C75303062304320283935205C75303062304629207769746820726F6F6D20616972206F72206C756B657761726D2077617465722C206C657420697420736574746C652C207265616420616761696E2E222C2265787065637465645F696E666F726D6174696F6E5F62697473223A302E363330357D2C7B22636F6465223A22436F6F6C207468652063796C696E64657220746F2061626F7574203130205C75303062304320283530205C75303062304629207769746820636F6F6C20726F6F6D20616972206F72206963652077617465722C206C657420697420736574746C652C207265616420616761696E2E222C2265787065637465645F696E666F726D6174696F6E5F62697473223A302E363035317D5D7D2C2263617574696F6E73223A5B22412070726573737572652D74656D706572617475726520636865636B2073637265656E733B2069742070726F766573206E6F7468696E672061626F7574206D6F6973747572652C20616369642C206F696C206F7220736D616C6C20616D6F756E7473206F6620616E6F74686572207265667269676572616E742E222C224E65766572206865617420612063796C696E6465722061626F7665203532205C7530306230432028313235205C753030623046293B207761726D206F6E6C792077697468206C756B657761726D207761746572206F7220726F6F6D206169722C206E65766572206120666C616D652E222C22476C6F76657320616E64206579652070726F74656374696F6E3B2076656E74696C6174653A207265667269676572616E7420646973706C61636573206F787967656E2E222C224F6E6C792063657274696669656420746563686E696369616E732068616E646C65207265667269676572616E743B206C6F63616C20636F64657320616E64207468652063796C696E6465722773206F776E206D61726B732072756C652E225D2C226D6F64656C5F76657273696F6E223A22766572646963742D312F323032362D31312D3235222C226964223A312C2263796C696E646572223A22462D31222C2265706F6368223A312C2270616972223A312C22726561636865645F6174223A22323032362D31312D33305431303A35313A31342E3934373135335A227D7D0A','2026-11-30 10:51:14.945641');
CREATE TABLE identities (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	person_id INTEGER NOT NULL, 
	issuer VARCHAR(500) NOT NULL, 
	subject VARCHAR(255) NOT NULL, 
	linked_at DATETIME NOT NULL, 
	CONSTRAINT fk_identities_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_identities_person_id_people FOREIGN KEY(person_id) REFERENCES people (id), 
	CONSTRAINT uq_identities_organisation_id_issuer_subject UNIQUE (organisation_id, issuer, subject)
);
CREATE TABLE identity_providers (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	issuer VARCHAR(500) NOT NULL, 
	client_id VARCHAR(200) NOT NULL, 
	sealed_client_secret TEXT NOT NULL, 
	newcomer_role VARCHAR(16), 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_identity_providers_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_identity_providers_organisation_id UNIQUE (organisation_id)
);
CREATE TABLE live (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	hookup_id INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	received_at DATETIME NOT NULL, 
	settling_state VARCHAR(16) NOT NULL, 
	temp_k FLOAT, 
	pressure_pa FLOAT, 
	document JSON NOT NULL, 
	CONSTRAINT fk_live_hookup_id_hookups FOREIGN KEY(hookup_id) REFERENCES hookups (id), 
	CONSTRAINT fk_live_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_live_hookup_id UNIQUE (hookup_id)
);
INSERT INTO "live" VALUES(1,1,1,'2026-11-30 10:51:11.312000','2026-11-30 10:51:13.129268','waiting',NULL,NULL,'{"settling_state": "waiting", "reasons": []}');
INSERT INTO "live" VALUES(2,1,2,'2026-11-30 10:51:11.312000','2026-11-30 10:51:13.129268','waiting',NULL,NULL,'{"settling_state": "waiting", "reasons": []}');
INSERT INTO "live" VALUES(3,1,3,'2026-11-30 10:51:11.312000','2026-11-30 10:51:13.129268','waiting',NULL,NULL,'{"settling_state": "waiting", "reasons": []}');
CREATE TABLE organisations (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name VARCHAR(80) NOT NULL, 
	units VARCHAR(16) DEFAULT 'inch-pound' NOT NULL, 
	region VARCHAR(32) DEFAULT 'north-america' NOT NULL, 
	preferences JSON, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT uq_organisations_name UNIQUE (name)
);
INSERT INTO "organisations" VALUES(1,'home','inch-pound','north-america',NULL,'2026-11-30 10:50:36.875059');
CREATE TABLE pairs (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	epoch INTEGER NOT NULL, 
	hookup_id INTEGER, 
	temp_k FLOAT NOT NULL, 
	pressure_pa FLOAT NOT NULL, 
	temp_noise_k FLOAT NOT NULL, 
	pressure_noise_pa FLOAT NOT NULL, 
	temp_bias_k FLOAT NOT NULL, 
	pressure_bias_pa FLOAT NOT NULL, 
	atmosphere_pa FLOAT, 
	atmosphere_bias_pa FLOAT NOT NULL, 
	atmosphere_source VARCHAR(16) NOT NULL, 
	pressure_device VARCHAR(120), 
	temperature_device VARCHAR(120), 
	settled_at DATETIME NOT NULL, 
	from_at DATETIME, 
	to_at DATETIME, 
	provisional BOOLEAN NOT NULL, 
	reasons JSON NOT NULL, 
	mass_kg FLOAT, 
	ambient_temp_k FLOAT, 
	recorded_by VARCHAR(120) NOT NULL, 
	received_at DATETIME NOT NULL, 
	CONSTRAINT fk_pairs_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_pairs_hookup_id_hookups FOREIGN KEY(hookup_id) REFERENCES hookups (id), 
	CONSTRAINT fk_pairs_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
INSERT INTO "pairs" VALUES(1,1,1,1,1,2.94320599999999956255e+02,589341.0,0.1104,1.0,0.3,3000.0,99000.0,5000.0,'unknown','urn:dev:ops:32473-first-1','urn:dev:ops:32473-first-1','2026-11-30 10:36:20.000000','2026-11-30 10:30:30.000000','2026-11-30 10:36:20.000000',0,'[]',NULL,NULL,'token:worker','2026-11-30 10:51:14.947153');
CREATE TABLE people (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	login VARCHAR(80) NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	role VARCHAR(16) NOT NULL, 
	password_hash VARCHAR(200), 
	session_epoch INTEGER DEFAULT '0' NOT NULL, 
	certification_number VARCHAR(80), 
	preferences JSON, 
	created_at DATETIME NOT NULL, 
	last_seen_at DATETIME, 
	disabled_at DATETIME, 
	CONSTRAINT fk_people_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_people_login UNIQUE (login)
);
INSERT INTO "people" VALUES(1,1,'admin','Administrator','administrator','$argon2id$v=19$m=65536,t=3,p=4$KP5JqxDrNvPeUmjwQohquw$/i9ZKR4sXzjr4P3+aI797MFnxww5PSEHCNl5OAO4NeM',0,NULL,NULL,'2026-11-30 10:50:36.918743',NULL,NULL);
CREATE TABLE places (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	kind VARCHAR(16) DEFAULT 'site' NOT NULL, 
	elevation_m FLOAT, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_places_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_places_organisation_id_name UNIQUE (organisation_id, name)
);
INSERT INTO "places" VALUES(1,1,'shop','shop',NULL,'2026-11-30 10:50:36.898703');
CREATE TABLE prices (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	designation VARCHAR(24) NOT NULL, 
	credit_per_kg NUMERIC(12, 4) NOT NULL, 
	charge_per_kg NUMERIC(12, 4) NOT NULL, 
	currency VARCHAR(3) NOT NULL, 
	version INTEGER DEFAULT '1' NOT NULL, 
	updated_at DATETIME NOT NULL, 
	updated_by VARCHAR(120) NOT NULL, 
	CONSTRAINT fk_prices_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_prices_organisation_id_designation UNIQUE (organisation_id, designation)
);
CREATE TABLE tokens (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	scope VARCHAR(16) NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	created_at DATETIME NOT NULL, 
	expires_at DATETIME, 
	revoked_at DATETIME, 
	last_used_at DATETIME, 
	CONSTRAINT fk_tokens_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_tokens_digest UNIQUE (digest)
);
INSERT INTO "tokens" VALUES(1,1,'technician','technician','b132b49a850f4aee5ccb67c460af2d933cd87d90d950ec55bf3e23ed38e8d042','2026-11-30 10:50:37.826761',NULL,NULL,'2026-11-30 10:51:07.442974');
INSERT INTO "tokens" VALUES(2,1,'supervisor','supervisor','948d2f462a2470a80e112569a3026880a256b3ea534156dd01d69175c950d9b5','2026-11-30 10:50:37.842663',NULL,NULL,NULL);
INSERT INTO "tokens" VALUES(3,1,'reader','reader','5ecdc157df52b08fe7e2fa0191ecba7284a08948b64ecb00509df91eb371561a','2026-11-30 10:50:37.853947',NULL,NULL,NULL);
INSERT INTO "tokens" VALUES(4,1,'worker','worker','ce3c3977c098526d27f4569211ca98b28f4847b1b021ee97f0b08ea9375088e7','2026-11-30 10:50:37.862701',NULL,NULL,'2026-11-30 10:50:59.135039');
CREATE TABLE trace (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	hookup_id INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	settling_state VARCHAR(16) NOT NULL, 
	temp_k FLOAT, 
	pressure_pa FLOAT, 
	mass_kg FLOAT, 
	CONSTRAINT fk_trace_hookup_id_hookups FOREIGN KEY(hookup_id) REFERENCES hookups (id), 
	CONSTRAINT fk_trace_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT uq_trace_hookup_id_at UNIQUE (hookup_id, at)
);
INSERT INTO "trace" VALUES(1,1,1,'2026-11-30 10:51:15.000000','waiting',NULL,NULL,NULL);
INSERT INTO "trace" VALUES(2,1,2,'2026-11-30 10:51:15.000000','waiting',NULL,NULL,NULL);
INSERT INTO "trace" VALUES(3,1,3,'2026-11-30 10:51:15.000000','waiting',NULL,NULL,NULL);
CREATE TABLE transfers (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	direction VARCHAR(4) NOT NULL, 
	designation VARCHAR(24), 
	shares JSON NOT NULL, 
	mass_kg FLOAT NOT NULL, 
	gross_after_kg FLOAT, 
	phase VARCHAR(8) NOT NULL, 
	epoch INTEGER NOT NULL, 
	occurred_at DATETIME NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by VARCHAR(120) NOT NULL, 
	technician VARCHAR(120), 
	certification_number VARCHAR(80), 
	equipment JSON, 
	standing JSON, 
	other_cylinder_id INTEGER, 
	overridden JSON, 
	override_reason TEXT, 
	corrects_id INTEGER, 
	note TEXT, 
	CONSTRAINT fk_transfers_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_transfers_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
CREATE TABLE verdicts (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	cylinder_id INTEGER NOT NULL, 
	epoch INTEGER NOT NULL, 
	pair_id INTEGER, 
	reached_at DATETIME NOT NULL, 
	identity_finding VARCHAR(16) NOT NULL, 
	designation VARCHAR(24), 
	probability FLOAT, 
	contamination_finding VARCHAR(16) NOT NULL, 
	contents_finding VARCHAR(16) NOT NULL, 
	disposition_code VARCHAR(32) NOT NULL, 
	model_version VARCHAR(64) NOT NULL, 
	document JSON NOT NULL, 
	CONSTRAINT fk_verdicts_cylinder_id_cylinders FOREIGN KEY(cylinder_id) REFERENCES cylinders (id), 
	CONSTRAINT fk_verdicts_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_verdicts_pair_id_pairs FOREIGN KEY(pair_id) REFERENCES pairs (id)
);
INSERT INTO "verdicts" VALUES(1,1,1,1,1,'2026-11-30 10:51:14.947153','narrowed','R-134a',8.56029736624172588044e-01,'none-detected','two-phase','measure-again','verdict-1/2026-11-25','{"identity": {"finding": "narrowed", "candidates": [{"designation": "R-134a", "probability": 0.8560297366241726, "saturation_temp_k": 294.13627740595507, "temp_difference_k": 0.18432259404488605}, {"designation": "R-12", "probability": 0.13259326140512748, "saturation_temp_k": 294.56380539385884, "temp_difference_k": -0.2432053938588865}]}, "contamination": {"finding": "none-detected", "probabilities": {"none": 0.9659177216213828, "air": 0.01871560495493452, "shifted": 0.0003598808722023793, "mixed": 0.015006792551480446}, "air": null, "detection_limits": [{"contaminant": "air", "mass_fraction": null, "partial_pressure_pa": 28262.23096322987, "note": null}, {"contaminant": "R-410A", "mass_fraction": 0.024214291391888854, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-22", "mass_fraction": 0.05426795743428939, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-404A", "mass_fraction": 0.048718001807311985, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-407C", "mass_fraction": 0.051518780594205636, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-454B", "mass_fraction": 0.02254647229626258, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-32", "mass_fraction": 0.016194940166828636, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-12", "mass_fraction": 0.051034073770067585, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-507A", "mass_fraction": 0.046925502319411096, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-407A", "mass_fraction": 0.048410955747076545, "partial_pressure_pa": null, "note": null}, {"contaminant": "R-448A", "mass_fraction": 0.04468685828032124, "partial_pressure_pa": null, "note": null}], "partners": []}, "contents_state": {"finding": "two-phase", "probabilities": {"two-phase": 0.9969453245886414, "vapour-only": 0.0029750279664562183, "liquid-full": 7.964744490245287e-05}}, "disposition": {"code": "measure-again", "text": "Measure once more before anything goes in or out; see the next measurement.", "expected_costs": {"keep": 2.037096267045793, "measure-again": 1.2188816032635943, "hold": 3.94027765852256, "recover-and-recycle": 7.325216839869819, "send-to-reclaimer": 7.9158124737100355, "send-for-destruction": 28.155505315253468}}, "reasons": ["At 21.2 \u00b0C (70.1 \u00b0F) clean R-134a stands at 593 kPa (86.0 psi) absolute; read 589 kPa (85.5 psi): -0.6 %, worth -0.2 K (-0.3 \u00b0F).", "Nothing else was detected; that is no proof of purity, which only the laboratory analysis of the reclaim standard gives.", "Not ruled out: R-12 (0.13, -0.2 K (-0.4 \u00b0F) from its own curve).", "317,394 hypotheses were weighed: 198 designations alone, with air, with vapour lost, and mixed."], "next_measurement": {"action": "Warm the cylinder to about 45 \u00b0C (113 \u00b0F) with room air or lukewarm water, let it settle, read again.", "code": "warm", "temp_k": 318.15, "expected_information_bits": 0.6538436848588296, "alternatives": [["Warm the cylinder to about 40 \u00b0C (104 \u00b0F) with room air or lukewarm water, let it settle, read again.", 0.6457], ["Warm the cylinder to about 35 \u00b0C (95 \u00b0F) with room air or lukewarm water, let it settle, read again.", 0.6305], ["Cool the cylinder to about 10 \u00b0C (50 \u00b0F) with cool room air or ice water, let it settle, read again.", 0.6051]]}, "cautions": ["A pressure-temperature check screens; it proves nothing about moisture, acid, oil or small amounts of another refrigerant.", "Never heat a cylinder above 52 \u00b0C (125 \u00b0F); warm only with lukewarm water or room air, never a flame.", "Gloves and eye protection; ventilate: refrigerant displaces oxygen.", "Only certified technicians handle refrigerant; local codes and the cylinder''s own marks rule."], "model_version": "verdict-1/2026-11-25", "explain": null, "chart": null}');
CREATE TABLE webhook_attempts (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	webhook_id INTEGER NOT NULL, 
	message_id VARCHAR(64) NOT NULL, 
	event_type VARCHAR(64) NOT NULL, 
	attempted_at DATETIME NOT NULL, 
	status INTEGER, 
	error VARCHAR(300), 
	duration_s FLOAT NOT NULL, 
	excerpt VARCHAR(512) NOT NULL, 
	CONSTRAINT fk_webhook_attempts_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_webhook_attempts_webhook_id_webhooks FOREIGN KEY(webhook_id) REFERENCES webhooks (id)
);
CREATE TABLE webhook_cursors (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	webhook_id INTEGER NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	position INTEGER NOT NULL, 
	last_event_id INTEGER, 
	failures INTEGER DEFAULT '0' NOT NULL, 
	failing_since DATETIME, 
	due_at DATETIME NOT NULL, 
	lease VARCHAR(64), 
	leased_until DATETIME, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_webhook_cursors_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id), 
	CONSTRAINT fk_webhook_cursors_webhook_id_webhooks FOREIGN KEY(webhook_id) REFERENCES webhooks (id)
);
CREATE TABLE webhooks (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	organisation_id INTEGER NOT NULL, 
	url VARCHAR(2000) NOT NULL, 
	types JSON NOT NULL, 
	mode VARCHAR(16) NOT NULL, 
	description VARCHAR(200), 
	sealed_secret TEXT NOT NULL, 
	sealed_previous_secret TEXT, 
	previous_secret_until DATETIME, 
	created_at DATETIME NOT NULL, 
	created_by VARCHAR(120) NOT NULL, 
	disabled_at DATETIME, 
	disabled_reason VARCHAR(200), 
	CONSTRAINT fk_webhooks_organisation_id_organisations FOREIGN KEY(organisation_id) REFERENCES organisations (id)
);
CREATE INDEX ix_events_organisation_id_id ON events (organisation_id, id);
CREATE INDEX ix_events_organisation_id_subject ON events (organisation_id, subject);
CREATE INDEX ix_idempotency_created_at ON idempotency (created_at);
CREATE INDEX ix_alarms_cylinder_id_code ON alarms (cylinder_id, code);
CREATE INDEX ix_alarms_organisation_id_cleared_at ON alarms (organisation_id, cleared_at);
CREATE INDEX ix_hookups_cylinder_id_to_at ON hookups (cylinder_id, to_at);
CREATE INDEX ix_hookups_organisation_id_to_at ON hookups (organisation_id, to_at);
CREATE INDEX ix_live_organisation_id_received_at ON live (organisation_id, received_at);
CREATE INDEX ix_pairs_cylinder_id_epoch_id ON pairs (cylinder_id, epoch, id);
CREATE INDEX ix_verdicts_cylinder_id_id ON verdicts (cylinder_id, id);
CREATE INDEX ix_device_credentials_organisation_id_device ON device_credentials (organisation_id, device);
CREATE INDEX ix_webhook_attempts_attempted_at ON webhook_attempts (attempted_at);
CREATE INDEX ix_webhook_attempts_webhook_id_id ON webhook_attempts (webhook_id, id);
CREATE INDEX ix_webhook_cursors_due_at ON webhook_cursors (due_at);
CREATE INDEX ix_webhook_cursors_webhook_id ON webhook_cursors (webhook_id);
CREATE INDEX ix_care_cylinder_id_kind_id ON care (cylinder_id, kind, id);
CREATE INDEX ix_exchanges_organisation_id_occurred_at ON exchanges (organisation_id, occurred_at);
CREATE INDEX ix_holds_cylinder_id_released_at ON holds (cylinder_id, released_at);
CREATE INDEX ix_transfers_cylinder_id_id ON transfers (cylinder_id, id);
CREATE INDEX ix_transfers_organisation_id_occurred_at ON transfers (organisation_id, occurred_at);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('organisations',1);
INSERT INTO "sqlite_sequence" VALUES('places',1);
INSERT INTO "sqlite_sequence" VALUES('events',14);
INSERT INTO "sqlite_sequence" VALUES('people',1);
INSERT INTO "sqlite_sequence" VALUES('tokens',4);
INSERT INTO "sqlite_sequence" VALUES('epochs',3);
INSERT INTO "sqlite_sequence" VALUES('hookups',3);
INSERT INTO "sqlite_sequence" VALUES('live',3);
INSERT INTO "sqlite_sequence" VALUES('trace',3);
INSERT INTO "sqlite_sequence" VALUES('idempotency',1);
INSERT INTO "sqlite_sequence" VALUES('pairs',1);
INSERT INTO "sqlite_sequence" VALUES('verdicts',1);
COMMIT;
