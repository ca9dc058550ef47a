-- What uploads under way and thumbnails take counts against the quota; what was begun and never
-- finished is forgotten in time.

ALTER TABLE photos ADD COLUMN thumbnail_bytes INTEGER NOT NULL DEFAULT 0; -- only counted, not in `sum`
ALTER TABLE uploads ADD COLUMN begun_at INTEGER NOT NULL DEFAULT 0;       -- last begun, Unix seconds
UPDATE uploads SET begun_at = CAST(strftime('%s', 'now') AS INTEGER);
