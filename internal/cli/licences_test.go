package cli

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"
)

// licences are the ones that may be linked into a program given away under the
// MIT licence, each with words that stand in its text and in no other's here
// (the texts as the Open Source Initiative publishes them).
var licences = []struct{ name, words string }{
	{"Apache-2.0", "Apache License Version 2.0, January 2004"},
	{"MPL-2.0", "Mozilla Public License Version 2.0"},
	{"ISC", "Permission to use, copy, modify, and/or distribute this software for any purpose with or without fee is hereby granted"},
	{"ISC", "Permission to use, copy, modify, and distribute this software for any purpose with or without fee is hereby granted"},
	{"MIT", "Permission is hereby granted, free of charge, to any person obtaining a copy"},
	{"BSD", "Redistribution and use in source and binary forms, with or without modification, are permitted provided that the following conditions are met"},
}

// licenceOf names the licence of a text, "" if it is none of licences, and
// reports whether it is of the GPL family.
func licenceOf(text string) (name string, gpl bool) {
	plain := strings.Join(strings.Fields(text), " ")
	for _, words := range []string{"GNU GENERAL PUBLIC LICENSE", "GNU LESSER GENERAL PUBLIC LICENSE", "GNU AFFERO GENERAL PUBLIC LICENSE"} {
		// The MPL names these as secondary licences; only a title counts.
		if strings.HasPrefix(strings.ToUpper(plain), words) {
			return "", true
		}
	}
	for _, l := range licences {
		if strings.Contains(strings.ToLower(plain), strings.ToLower(l.words)) {
			return l.name, false
		}
	}
	return "", false
}

// linked lists the modules that the program is made of, with their folders.
func linked(t *testing.T) map[string]string {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps", "-json=ImportPath,Module,Standard", "aerugo/cmd/aerugo")
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	modules := map[string]string{}
	for d := json.NewDecoder(out); ; {
		var p struct {
			ImportPath string
			Standard   bool
			Module     *struct {
				Path, Version, Dir string
				Main               bool
			}
		}
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if p.Standard || (p.Module != nil && p.Module.Main) {
			continue
		}
		if p.Module == nil {
			t.Errorf("package %s belongs to no module", p.ImportPath)
			continue
		}
		modules[p.Module.Path+" "+p.Module.Version] = p.Module.Dir
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	return modules
}

// TestEveryLinkedModuleMayBeGivenAway reads the licence files of all modules
// in the program; go test -v prints the list.
func TestEveryLinkedModuleMayBeGivenAway(t *testing.T) {
	modules := linked(t)
	if len(modules) == 0 {
		t.Fatal("no module is linked in, which can't be")
	}
	names := make([]string, 0, len(modules))
	for m := range modules {
		names = append(names, m)
	}
	sort.Strings(names)
	for _, m := range names {
		entries, err := os.ReadDir(modules[m])
		if err != nil {
			t.Fatal(err)
		}
		var found []string
		for _, e := range entries {
			upper := strings.ToUpper(e.Name())
			if e.IsDir() || !(strings.HasPrefix(upper, "LICEN") || strings.HasPrefix(upper, "COPYING") || strings.HasPrefix(upper, "UNLICEN")) {
				continue
			}
			text, err := os.ReadFile(filepath.Join(modules[m], e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			name, gpl := licenceOf(string(text))
			if gpl {
				t.Errorf("%s: %s is of the GPL family, which a single binary under the MIT licence must not hold", m, e.Name())
			}
			if name != "" {
				found = append(found, name)
			}
		}
		if len(found) == 0 {
			t.Errorf("%s: no licence that is known here among its files", m)
		}
		t.Logf("%-60s %s", m, strings.Join(found, ", "))
	}
}

func TestGPLIsKnownByItsTitle(t *testing.T) {
	for text, want := range map[string]bool{
		"                    GNU GENERAL PUBLIC LICENSE\n                       Version 3, 29 June 2007":         true,
		"GNU LESSER GENERAL PUBLIC LICENSE\nVersion 2.1, February 1999":                                          true,
		"Mozilla Public License Version 2.0\n ... means either the GNU General Public License, Version 2.0, ...": false,
	} {
		if name, gpl := licenceOf(text); gpl != want || (!want && name != "MPL-2.0") {
			t.Errorf("%q: %q, %v", text, name, gpl)
		}
	}
}
