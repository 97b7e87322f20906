package target

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// ArgyllCMS 2.3.1 colverify over the two files: mean 0.8477, peak 1.9513 dE00.
func TestEditionsDifferAsColverifySays(t *testing.T) {
	before, after := Before2014(), After2014()
	sum, peak, greys := 0.0, 0.0, 0
	for i, p := range before.Patches {
		q := after.Patches[i]
		if p.ID != q.ID || p.Name != q.Name || p.Neutral != q.Neutral {
			t.Errorf("patch %d is %+v in one and %+v in the other", i+1, p, q)
		}
		d := colour.Difference(p.Lab, q.Lab)
		sum += d / 24
		peak = max(peak, d)
		if p.Neutral {
			greys++
			if i < 18 {
				t.Errorf("patch %d, %s, passes for a grey", i+1, p.Name)
			}
		}
	}
	if len(before.Patches) != Columns*Rows || greys != Columns {
		t.Errorf("%d patches, %d greys; want 24 and 6", len(before.Patches), greys)
	}
	if math.Abs(sum-0.8477) > 5e-5 || math.Abs(peak-1.9513) > 5e-5 {
		t.Errorf("mean %.4f, peak %.4f; want 0.8477, 1.9513", sum, peak)
	}
}

// What files by different programs look like; common practice, no source.
func TestFilesFromTheWildAreRead(t *testing.T) {
	want := [][]string{{"1", "dark skin", "37.54", "14.37", "14.92"}, {"2", "light skin", "64.66", "19.27", "17.5"}}
	for name, text := range map[string]string{
		"as the standard has it": "CGATS.17\nORIGINATOR \"bench\"\nNUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 \"dark skin\" 37.54 14.37 14.92\n2 \"light skin\" 64.66 19.27 17.5\nEND_DATA\n",
		"no counts, tabs, CRLF":  "CGATS.17\r\nBEGIN_DATA_FORMAT\r\nSAMPLE_ID\tSAMPLE_NAME\tLAB_L\tLAB_A\tLAB_B\r\nEND_DATA_FORMAT\r\nBEGIN_DATA\r\n1\t\"dark skin\"\t37.54\t14.37\t14.92\r\n2\t\"light skin\"\t64.66\t19.27\t17.5\r\nEND_DATA",
		"names without quotes":   "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 dark skin 37.54 14.37 14.92\n2 light skin 64.66 19.27 17.5\nEND_DATA\n",
		"all on few lines":       "IT8.7/2\nbegin_data_format sample_id sample_name lab_l lab_a lab_b end_data_format\nNUMBER_OF_SETS 7\nBEGIN_DATA 1 \"dark skin\" 37.54 14.37 14.92\n2 \"light skin\" 64.66 19.27 17.5 END_DATA",
		"mark, comments, blanks": "\uFEFFCTI3   \n\n# made on the bench\nKEYWORD \"LAMP\"\nLAMP \"5000 K # 3\"\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 \"dark skin\" 37.54 14.37 14.92 # brown\n\n2 \"light skin\" 64.66 19.27 17.5\nEND_DATA\n",
	} {
		tables, err := ReadCGATS(text)
		if err != nil || len(tables) != 1 {
			t.Errorf("%s: %d tables, %v", name, len(tables), err)
			continue
		}
		if !reflect.DeepEqual(tables[0].Rows, want) {
			t.Errorf("%s: %q", name, tables[0].Rows)
		}
	}
}

func TestDecimalCommasAndXYZGiveTheSameColour(t *testing.T) {
	lab := After2014().Patches[0].Lab
	for _, text := range []string{
		"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\nA1 37,54 14,37 14,92\nEND_DATA",
		// XYZ by ISO/CIE 11664-4 from the same Lab, worked out by hand.
		"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\nA1 11.3639 9.8325 4.7795\nEND_DATA",
	} {
		tables, err := ReadCGATS(text)
		if err != nil {
			t.Fatal(err)
		}
		r, err := tables[0].Reference("card", "")
		if err != nil {
			t.Fatal(err)
		}
		if d := colour.Difference(r.Patches[0].Lab, lab); d > 0.02 || r.Patches[0].ID != "A1" {
			t.Errorf("%+v, %.3f from %+v", r.Patches[0], d, lab)
		}
	}
}

func TestSeveralTablesShareAFormat(t *testing.T) {
	tables, err := ReadCGATS("CGATS.17\nDESCRIPTOR first\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L\nEND_DATA_FORMAT\nBEGIN_DATA\n1 2\nEND_DATA\nDESCRIPTOR \"second one\"\nBEGIN_DATA\n3 4\nEND_DATA\nBEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\n5\nEND_DATA\n")
	if err != nil || len(tables) != 3 {
		t.Fatalf("%d tables, %v", len(tables), err)
	}
	if tables[1].Keyword("descriptor") != "second one" || tables[1].Rows[0][1] != "4" || len(tables[2].Fields) != 1 {
		t.Errorf("%+v", tables)
	}
}

func TestFilesThatLackSomethingAreRefused(t *testing.T) {
	const head = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
	for text, part := range map[string]string{
		"":                                       "no table",
		"CGATS.17\n":                             "no table",
		head:                                     "no table",
		"CGATS.17\nBEGIN_DATA\n1\nEND_DATA":      "line 2",
		"CGATS.17\nBEGIN_DATA_FORMAT\nA B":       "END_DATA_FORMAT",
		head + "BEGIN_DATA\n1 2 3 4\n":           "END_DATA",
		head + "BEGIN_DATA\n1 2 3\nEND_DATA":     "line 6: 3 values for 4",
		head + "BEGIN_DATA\n1 2 3 4 5\nEND_DATA": "line 6: 5 values for 4",
	} {
		if _, err := ReadCGATS(text); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: %v, want %q", text, err, part)
		}
	}
	for row, part := range map[string]string{
		"1 x 0 0":            "not a number",
		"1 50 NaN 0":         "not a number",
		"1 5000 0 0":         "no colour",
		"1 50 0 0\n1 60 0 0": "twice",
		"1 50 1,000,000 0":   "not a number",
	} {
		tables, err := ReadCGATS(head + "BEGIN_DATA\n" + row + "\nEND_DATA")
		if err != nil {
			t.Fatal(err)
		}
		if _, err = tables[0].Reference("", ""); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: %v, want %q", row, err, part)
		}
	}
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	for _, r := range []Reference{Before2014(), After2014()} {
		text, err := WriteCGATS(r.Table())
		if err != nil {
			t.Fatal(err)
		}
		tables, err := ReadCGATS(text)
		if err != nil {
			t.Fatal(err)
		}
		back, err := tables[0].Reference(r.Name, r.Edition)
		if err != nil || !reflect.DeepEqual(back, r) {
			t.Errorf("%v: %+v", err, back)
		}
		if !strings.HasPrefix(text, "CGATS.17\n") || !strings.Contains(text, "\nNUMBER_OF_SETS 24\n") {
			t.Errorf("%s", text)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~äé"]{0,12}`)
		n := rapid.IntRange(1, 5).Draw(t, "columns")
		in := Table{Fields: []string{"SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "A", "B"}[:n]}
		for range rapid.IntRange(1, 3).Draw(t, "keywords") {
			in.Keywords = append(in.Keywords, Keyword{rapid.StringMatching(`X[A-Z_0-9]{1,8}`).Draw(t, "name"), text.Draw(t, "value")})
		}
		for range rapid.IntRange(0, 4).Draw(t, "rows") {
			var row []string
			for range n {
				row = append(row, text.Draw(t, "cell"))
			}
			in.Rows = append(in.Rows, row)
		}
		out, err := WriteCGATS(in, in)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadCGATS(out)
		if err != nil || len(back) != 2 || !reflect.DeepEqual(back[0], in) || !reflect.DeepEqual(back[1], in) {
			t.Fatalf("%v\n%s\n%+v", err, out, back)
		}
	})
}

func TestWritingRefusesWhatTheFormatCannotHold(t *testing.T) {
	good := Table{Fields: []string{"A", "B"}, Rows: [][]string{{"1", "2"}}}
	if _, err := WriteCGATS(good); err != nil {
		t.Fatal(err)
	}
	for name, bad := range map[string]Table{
		"no columns":     {},
		"short row":      {Fields: good.Fields, Rows: [][]string{{"1"}}},
		"line break":     {Fields: good.Fields, Rows: [][]string{{"1", "a\nEND_DATA"}}},
		"column twice":   {Fields: []string{"A", "A"}},
		"spaced column":  {Fields: []string{"A B"}},
		"ending column":  {Fields: []string{"END_DATA_FORMAT"}},
		"keyword END":    {Fields: good.Fields, Keywords: []Keyword{{"END_DATA", ""}}},
		"broken keyword": {Fields: good.Fields, Keywords: []Keyword{{"LAMP", "a\rb"}}},
	} {
		if text, err := WriteCGATS(bad); err == nil || text != "" {
			t.Errorf("%s: %q, %v", name, text, err)
		}
	}
	if _, err := WriteCGATS(); err == nil {
		t.Error("nothing was written without complaint")
	}
}

func FuzzReadCGATS(f *testing.F) {
	f.Add(before2014)
	f.Add("CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 dark skin 37,5 1 2\nEND_DATA\nBEGIN_DATA\n1 a 2 3 4 END_DATA")
	f.Add("\"\"\"\n BEGIN_DATA_FORMAT A END_DATA_FORMAT BEGIN_DATA 1 END_DATA")
	f.Fuzz(func(t *testing.T, text string) {
		tables, err := ReadCGATS(text)
		if err != nil {
			return
		}
		for _, table := range tables {
			for _, row := range table.Rows {
				if len(row) != len(table.Fields) {
					t.Fatalf("%d values for %d columns", len(row), len(table.Fields))
				}
			}
			if r, err := table.Reference("", ""); err == nil && len(r.Patches) != len(table.Rows) {
				t.Fatalf("%d patches of %d rows", len(r.Patches), len(table.Rows))
			}
			out, err := WriteCGATS(table)
			if err != nil {
				continue
			}
			back, err := ReadCGATS(out)
			if err != nil || len(back) != 1 || len(back[0].Rows) != len(table.Rows) {
				t.Fatalf("written table is not read back: %v\n%s", err, out)
			}
		}
	})
}
