package store_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"spareounce/store/storetest"
)

var update = flag.Bool("update", false, "rewrite testdata/schema.sql")

// TestSchemaIsGolden shows the schema as it is, however many migrations made it. Only what every PostgreSQL from 15 on
// words alike is compared; the queue's own tables are its affair.
func TestSchemaIsGolden(t *testing.T) {
	t.Parallel()
	conn, err := pgx.Connect(t.Context(), storetest.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	var b strings.Builder
	tables := query(t, conn, `
		SELECT c.relname FROM pg_class c WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace AND c.relname NOT LIKE 'river%' ORDER BY 1`)
	for _, table := range tables {
		fmt.Fprintf(&b, "%s\n", table)
		for _, kind := range []string{`
			SELECT attname || ' ' || format_type(atttypid, atttypmod) || CASE WHEN attnotnull THEN ' not null' ELSE '' END
				|| coalesce(' default ' || pg_get_expr(d.adbin, d.adrelid), '') || CASE WHEN attidentity <> '' THEN ' identity' ELSE '' END
			FROM pg_attribute a LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
			WHERE a.attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped ORDER BY attnum`, `
			SELECT conname || ': ' || pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = $1::regclass AND contype <> 'n' ORDER BY conname`, `
			SELECT pg_get_indexdef(indexrelid) FROM pg_index i WHERE indrelid = $1::regclass
				AND NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid) ORDER BY 1`} {
			for _, line := range query(t, conn, kind, table) {
				fmt.Fprintf(&b, "    %s\n", line)
			}
		}
	}
	const file = "../testdata/schema.sql"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		t.Errorf("the schema has changed; look at the difference, then run with -update\n%s", b.String())
	}
}

func query(t *testing.T, conn *pgx.Conn, sql string, args ...any) []string {
	t.Helper()
	rows, _ := conn.Query(t.Context(), sql, args...)
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatal(err)
	}
	return lines
}
