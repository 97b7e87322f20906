package web_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"
)

// Everything measured is read again in the background, and the old readings stay.
func TestMeasuringAgainKeepsTheOldReadings(t *testing.T) {
	t.Parallel()
	b := serve(t)
	example(t, b, 6)
	looks, err := b.store.Looks(t.Context())
	if err != nil || len(looks) == 0 {
		t.Fatalf("%d looks, %v", len(looks), err)
	}
	photo := looks[0].Photo
	before, err := b.store.Measurements(t.Context(), photo)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.PostForm(b.url+"/remeasure", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if u, err := resp.Location(); err != nil || u.Query().Get("said") == "" {
		t.Errorf("nothing outdated: status %d, %v", resp.StatusCode, u)
	}
	if again, err := b.store.Measurements(t.Context(), photo); err != nil || len(again) != len(before) {
		t.Errorf("what today's method had read was read again: %d readings, %v", len(again), err)
	}
	if resp, err = client.PostForm(b.url+"/remeasure", url.Values{"all": {"1"}}); err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		after, err := b.store.Measurements(t.Context(), photo)
		if err != nil {
			t.Fatal(err)
		}
		if len(after) == len(before)+1 {
			if after[0].Lab != before[0].Lab || after[len(after)-1].ID != before[len(before)-1].ID {
				t.Errorf("read again as %v after %v, or the first reading is gone", after[0].Lab, before[0].Lab)
			}
			break
		}
		if time.Since(began) > patience {
			t.Fatalf("%d readings after %v, want %d", len(after), patience, len(before)+1)
		}
	}
}
