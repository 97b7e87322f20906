package web

import (
	"regexp"
	"strconv"
)

// How clearly a difference in ΔE00 is seen; common practice, no source.
const (
	hardlySeen  = 1.0
	besideSeen  = 2.0
	atOnceSeen  = 5.0
	notSeenWord = "not seen"
)

// seenWords says how clearly two looks that lie this far apart, in ΔE00, are told
// apart by eye: it goes on from "a difference".
func seenWords(de float64) string {
	switch {
	case de < hardlySeen:
		return notSeenWord
	case de < besideSeen:
		return "hardly seen"
	case de < atOnceSeen:
		return "seen side by side"
	}
	return "seen at once"
}

// A bound is a way a sentence names the largest difference that may be there, with
// what stands there in words instead.
type bound struct {
	in  *regexp.Regexp
	out string
}

var bounds = []bound{
	{regexp.MustCompile(`it is smaller than ΔE00 ([0-9]+(?:\.[0-9]+)?) and `), "it is %, and smaller than "},
	{regexp.MustCompile(`it is smaller than ΔE00 ([0-9]+(?:\.[0-9]+)?)`), "it is %"},
	{regexp.MustCompile(`its colour differs by less than ΔE00 ([0-9]+(?:\.[0-9]+)?), if at all`), "a difference in colour is %, if there is one"},
	{regexp.MustCompile(`or as much as ΔE00 ([0-9]+(?:\.[0-9]+)?)`), "or make a difference %"},
	{regexp.MustCompile(`differ by ΔE00 ([0-9]+(?:\.[0-9]+)?), no more`), "make a difference %, no more"},
}

// plainBound puts the ΔE00 in a sentence into words, and gives the number apart. A
// sentence that says it in another way stays as it is.
func plainBound(text string) (words, number string) {
	for _, b := range bounds {
		m := b.in.FindStringSubmatchIndex(text)
		if m == nil {
			continue
		}
		number = text[m[2]:m[3]]
		de, err := strconv.ParseFloat(number, 64)
		if err != nil {
			continue
		}
		out := ""
		for _, c := range b.out {
			if c == '%' {
				out += seenWords(de)
			} else {
				out += string(c)
			}
		}
		return text[:m[0]] + out + text[m[1]:], "at most ΔE00 " + number
	}
	return text, ""
}
