package language

import (
	"fmt"
	"strconv"
	"strings"
)

// A Message is one text of a catalogue: the English as it stands in Aerugo and
// what it is in another language.
type Message struct {
	Context string   // where the English alone would not tell, the page's name; else empty
	ID      string   // the English
	Plural  string   // the English for many, where it differs from ID
	Text    []string // the translation; with Plural, one for each form of the language
	Notes   []string // what the marks in ID stand for
	Places  []string // where the English stands
	Fuzzy   bool     // a guess nobody has read
}

// A Catalogue is the content of a PO file. Its header is that of gettext, whose
// fields Language and X-Native-Name tell whose it is.
type Catalogue struct {
	Header   map[string]string
	Messages []Message
}

// ReadCatalogue parses a PO file as GNU gettext's manual, 'The Format of PO
// Files', describes it. Lines of obsolete messages (#~) are left out.
func ReadCatalogue(po []byte) (Catalogue, error) {
	c := Catalogue{Header: map[string]string{}}
	var m Message
	var into *string // where a following line of text goes on
	has, said := false, false
	seen := map[string]bool{}
	finish := func(line int) error {
		into = nil
		if !has {
			m = Message{}
			return nil
		}
		if !said {
			return fmt.Errorf("line %d: %q has no msgstr", line, m.ID)
		}
		if m.ID == "" && m.Context == "" {
			if len(c.Messages) > 0 || len(c.Header) > 0 {
				return fmt.Errorf("line %d: the header stands first and once", line)
			}
			for _, field := range strings.Split(m.Text[0], "\n") {
				if name, value, ok := strings.Cut(field, ":"); ok {
					c.Header[strings.TrimSpace(name)] = strings.TrimSpace(value)
				}
			}
		} else {
			key := m.Context + "\x04" + m.ID
			if seen[key] {
				return fmt.Errorf("line %d: %q stands twice", line, m.ID)
			}
			seen[key] = true
			c.Messages = append(c.Messages, m)
		}
		m, has, said = Message{}, false, false
		return nil
	}
	for i, text := range strings.Split(strings.TrimPrefix(string(po), "\ufeff"), "\n") {
		n := i + 1
		text = strings.TrimSpace(text)
		if text == "" {
			continue
		}
		if text[0] == '#' {
			if said {
				if err := finish(n); err != nil {
					return c, err
				}
			}
			switch {
			case strings.HasPrefix(text, "#. "):
				m.Notes = append(m.Notes, text[3:])
			case strings.HasPrefix(text, "#: "):
				m.Places = append(m.Places, strings.Fields(text[3:])...)
			case strings.HasPrefix(text, "#,"):
				m.Fuzzy = m.Fuzzy || strings.Contains(text, "fuzzy")
			}
			continue
		}
		if text[0] == '"' {
			if into == nil {
				return c, fmt.Errorf("line %d: text without a msgid or msgstr before it", n)
			}
			t, err := unquote(text)
			if err != nil {
				return c, fmt.Errorf("line %d: %w", n, err)
			}
			*into += t
			continue
		}
		word, rest, _ := strings.Cut(text, " ")
		t, err := unquote(strings.TrimSpace(rest))
		if err != nil {
			return c, fmt.Errorf("line %d: %w", n, err)
		}
		switch {
		case word == "msgctxt" || word == "msgid":
			if said {
				if err := finish(n); err != nil {
					return c, err
				}
			}
			if word == "msgctxt" {
				m.Context, into = t, &m.Context
				continue
			}
			if has {
				return c, fmt.Errorf("line %d: a msgid where the msgstr of %q should be", n, m.ID)
			}
			m.ID, into, has = t, &m.ID, true
		case word == "msgid_plural" && has && !said:
			m.Plural, into = t, &m.Plural
		case word == "msgstr" && has && !said && m.Plural == "":
			m.Text, said = []string{t}, true
			into = &m.Text[0]
		case strings.HasPrefix(word, "msgstr[") && has && m.Plural != "" && word == fmt.Sprintf("msgstr[%d]", len(m.Text)):
			m.Text, said = append(m.Text, t), true
			into = &m.Text[len(m.Text)-1]
		default:
			return c, fmt.Errorf("line %d: %q is not expected here", n, word)
		}
	}
	return c, finish(strings.Count(string(po), "\n") + 1)
}

// unquote reads a string of a PO file, which is written as in C.
func unquote(text string) (string, error) {
	if len(text) < 2 || text[0] != '"' || text[len(text)-1] != '"' {
		return "", fmt.Errorf("%q is not a text in quotes", text)
	}
	text = text[1 : len(text)-1]
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		switch {
		case text[i] == '"':
			return "", fmt.Errorf("a quote inside a text is written \\\"")
		case text[i] != '\\':
			b.WriteByte(text[i])
		case i+1 == len(text):
			return "", fmt.Errorf("a text ends in a lone \\")
		default:
			i++
			switch text[i] {
			case 'n':
				b.WriteByte('\n')
			case 't':
				b.WriteByte('\t')
			case 'r':
				b.WriteByte('\r')
			case '\\', '"':
				b.WriteByte(text[i])
			default:
				return "", fmt.Errorf("\\%c is not known", text[i])
			}
		}
	}
	return b.String(), nil
}

var poQuotes = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\t", `\t`, "\r", `\r`)

func quote(text string) string { return `"` + poQuotes.Replace(text) + `"` }

// headerOrder is how the fields of a header are written.
var headerOrder = []string{"Project-Id-Version", "Language", "X-Native-Name", "MIME-Version", "Content-Type", "Content-Transfer-Encoding", "Plural-Forms"}

// Write returns the catalogue as a PO file. Reading it gives the same
// catalogue again.
func (c Catalogue) Write() []byte {
	var b strings.Builder
	b.WriteString("msgid \"\"\nmsgstr \"\"\n")
	for _, name := range headerOrder {
		if v, ok := c.Header[name]; ok {
			b.WriteString(quote(name+": "+v+"\n") + "\n")
		}
	}
	for _, m := range c.Messages {
		b.WriteByte('\n')
		for _, n := range m.Notes {
			b.WriteString("#. " + n + "\n")
		}
		for _, p := range m.Places {
			b.WriteString("#: " + p + "\n")
		}
		if m.Fuzzy {
			b.WriteString("#, fuzzy\n")
		}
		if m.Context != "" {
			b.WriteString("msgctxt " + quote(m.Context) + "\n")
		}
		b.WriteString("msgid " + quote(m.ID) + "\n")
		if m.Plural == "" {
			b.WriteString("msgstr " + quote(first(m.Text)) + "\n")
			continue
		}
		b.WriteString("msgid_plural " + quote(m.Plural) + "\n")
		for i, t := range m.Text {
			b.WriteString("msgstr[" + strconv.Itoa(i) + "] " + quote(t) + "\n")
		}
		if len(m.Text) == 0 {
			b.WriteString("msgstr[0] \"\"\nmsgstr[1] \"\"\n")
		}
	}
	return []byte(b.String())
}

func first(text []string) string {
	if len(text) == 0 {
		return ""
	}
	return text[0]
}
