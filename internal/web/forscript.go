package web

import (
	"encoding/json"
	"html/template"
	"reflect"

	"aerugo/internal/language"
)

// A forScript is what a page hands to its script: JSON in an attribute, whose texts are in
// the page's language, since the script can't ask once the laptop is away.
type forScript struct{ of any }

// String returns it in English.
func (x forScript) String() string { return x.in(language.English) }

func (x forScript) in(l *language.Language) string {
	b, err := json.Marshal(said(l, x.of))
	if err != nil {
		return "[]" // only what JSON has no form for, and no such field is handed on
	}
	return string(b)
}

// said returns a copy of what is to become JSON, in which the fields marked say:"yes" are in
// the language: texts, lists of texts and drawings.
func said(l *language.Language, v any) any {
	if l == language.English || v == nil {
		return v
	}
	return saidValue(l, reflect.ValueOf(v), false).Interface()
}

func saidValue(l *language.Language, v reflect.Value, say bool) reflect.Value {
	switch v.Kind() {
	case reflect.String:
		if !say {
			return v
		}
		out := reflect.New(v.Type()).Elem()
		if v.Type() == reflect.TypeFor[template.HTML]() {
			out.SetString(string(sayDrawn(l, template.HTML(v.String()))))
		} else {
			out.SetString(l.Say(v.String()))
		}
		return out
	case reflect.Struct:
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				out.Field(i).Set(saidValue(l, v.Field(i), f.Tag.Get("say") == "yes"))
			}
		}
		return out
	case reflect.Slice:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			out.Index(i).Set(saidValue(l, v.Index(i), say))
		}
		return out
	case reflect.Map:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for it := v.MapRange(); it.Next(); {
			out.SetMapIndex(it.Key(), saidValue(l, it.Value(), say))
		}
		return out
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return v
		}
		in := saidValue(l, v.Elem(), say)
		if v.Kind() == reflect.Interface {
			return in
		}
		out := reflect.New(v.Type().Elem())
		out.Elem().Set(in)
		return out
	}
	return v
}
