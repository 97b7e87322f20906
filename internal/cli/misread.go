package cli

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/alecthomas/kong"

	"aerugo/internal/studio"
)

// The parser's own words, for those who know its grammar, are put into plain
// ones. What is not on the list goes through as it is.
var misreadings = []struct {
	theirs *regexp.Regexp
	ours   string
}{
	{regexp.MustCompile(`^unknown flag (\S+?)(?:, did you mean (.*)\?)?$`), `there is no option $1 here`},
	{regexp.MustCompile(`^missing flags: (.*)$`), `$1 is missing`},
	{regexp.MustCompile(`^expected "?<(\w+)>.*$`), `name at least one $1`},
	{regexp.MustCompile(`^(--[\w-]+)(?:=\S+)?: expected \S+ value but got "EOL" .*$`), `$1 needs a value after it`},
	{regexp.MustCompile(`^(--[\w-]+)(?:=\S+)?: expected \S+ value but got "(-[0-9].*)" \(.*$`), `$1 needs its value joined with = when it starts with a minus sign: $1=$2`},
	{regexp.MustCompile(`^(--[\w-]+)(?:=\S+)?: expected \S+ value but got .*$`), `$1 needs a value after it`},
	{regexp.MustCompile(`^(--[\w-]+)(?:=\S+)?: bool value must be .* but got "(.*)"$`), `$1 takes no value; write it alone`},
	{regexp.MustCompile(`^unexpected argument (\S+?)(?:, did you mean (.*)\?)?$`), `"$1" is one word too many`},
}

// misread turns the parser's error into a Problem.
func misread(parser *kong.Kong, args []string, err error) error {
	node := parser.Model.Node
	for _, arg := range args {
		next := child(node, arg)
		if next == nil {
			break
		}
		node = next
	}
	help := node.FullPath() + " --help"
	verbs := names(node)
	if len(verbs) > 0 {
		word := ""
		for _, arg := range args {
			if !strings.HasPrefix(arg, "-") && child(node, arg) == nil && !strings.Contains(" "+node.FullPath()+" ", " "+arg+" ") {
				word = arg
				break
			}
		}
		list := fmt.Sprintf("the verbs are %s (%s explains each)", strings.Join(verbs, ", "), help)
		if len(verbs) == 1 {
			list = fmt.Sprintf("the one verb here is %s (see %s)", verbs[0], help)
		}
		switch near := nearest(word, verbs); {
		case strings.Contains(err.Error(), "unknown flag"):
		case word == "":
			return studio.Problemf(studio.Invalid, "", "say what to do; %s", list)
		case near != "":
			return studio.Problemf(studio.Invalid, "", "there is no verb %q; did you mean %q? %s%s", word, near, strings.ToUpper(list[:1]), list[1:])
		default:
			return studio.Problemf(studio.Invalid, "", "there is no verb %q; %s", word, list)
		}
	}
	text := err.Error()
	for _, m := range misreadings {
		found := m.theirs.FindStringSubmatchIndex(text)
		if found == nil {
			continue
		}
		plain := string(m.theirs.ExpandString(nil, m.ours, text, found))
		if parts := m.theirs.FindStringSubmatch(text); len(parts) > 2 && strings.HasPrefix(parts[2], `"--`) {
			plain += "; did you mean " + strings.ReplaceAll(parts[2], `"`, "") + "?"
		}
		text = plain
		break
	}
	return studio.Problemf(studio.Invalid, "", "%s (%s lists what can be written)", text, help)
}

// child returns the verb of that name under node, or nil.
func child(node *kong.Node, name string) *kong.Node {
	for _, c := range node.Children {
		if c.Name == name {
			return c
		}
	}
	return nil
}

func names(node *kong.Node) []string {
	var out []string
	for _, c := range node.Children {
		out = append(out, c.Name)
	}
	return out
}

// nearest returns the one of names that word was probably meant to be, by the
// fewest letters to change, or "" when none is near.
func nearest(word string, names []string) string {
	best, least := "", max(1, len(word)/2)+1
	for _, n := range names {
		d := edits(strings.ToLower(word), n)
		if len(word) >= 3 && (strings.HasPrefix(n, word) || strings.HasPrefix(word, n)) {
			d = min(d, 1)
		}
		if d < least {
			best, least = n, d
		}
	}
	return best
}

// edits counts the letters to insert, delete or replace to turn a into b
// (Levenshtein's distance).
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		before := row[0]
		row[0] = i + 1
		for j := range y {
			change := before
			if x[i] != y[j] {
				change++
			}
			before = row[j+1]
			row[j+1] = min(change, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(y)]
}
