package site_test

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"aerugo/internal/site"
)

// findBrowser returns the Chromium to test with.
func findBrowser() (string, error) {
	if b := os.Getenv("AERUGO_BROWSER"); b != "" {
		return b, nil
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p, nil
		}
	}
	return "", fmt.Errorf("no Chromium: install it (Debian: apt-get install chromium), or set AERUGO_BROWSER")
}

// kinds picks one page of every kind, the largest.
func kinds(all map[string][]byte) []string {
	best := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		kind, _, _ := strings.Cut(strings.TrimSuffix(name, ".html"), "-")
		if had := best[kind]; had == "" || len(all[name]) > len(all[had]) {
			best[kind] = name
		}
	}
	return slices.Sorted(maps.Values(best))
}

// TestTheSiteOfTheExample builds the site of the invented studio, follows every link,
// and opens every kind of page from its folder, at a phone's and a laptop's width.
func TestTheSiteOfTheExample(t *testing.T) {
	s := photographed(t, 6)
	a := everything(t, s)
	a.Notes = true
	all := map[string][]byte{}
	dir := filepath.Join(t.TempDir(), "site")
	err := site.Folder(dir, func(put func(string, []byte) error) error {
		gather := collect(all)
		return site.Build(t.Context(), s, a, func(name string, data []byte) error {
			if err := gather(name, data); err != nil {
				return err
			}
			return put(name, data)
		}, nil)
	})
	if err != nil {
		t.Fatal(err)
	}
	holdLinks(t, all)
	validFile(t, all["recipe.patina.json"])

	path, err := findBrowser()
	if err != nil {
		t.Fatal(err)
	}
	// axe-core 4.14.1 (MPL-2.0), unchanged, as it lies beside the tests of web
	axe := string(must[[]byte](t)(os.ReadFile("../web/testdata/axe.min.js")))
	alloc, stop := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.WSURLReadTimeout(2*time.Minute),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("hide-scrollbars", true), chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-hang-monitor", true))
	defer stop()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	ctx, cancelTime := context.WithTimeout(ctx, 8*time.Minute)
	defer cancelTime()
	var mu sync.Mutex
	var said []string
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *log.EventEntryAdded:
			said = append(said, fmt.Sprintf("%+v", e.Entry))
		case *runtime.EventExceptionThrown:
			said = append(said, fmt.Sprintf("%+v", e.ExceptionDetails))
		}
	}); err != nil {
		t.Fatal(err)
	}
	pages := kinds(all)
	if len(pages) != 5 {
		t.Errorf("the kinds of page are %v, want index, recipe, set, swatch, table", pages)
	}
	for _, width := range []int64{390, 1280} {
		for _, name := range pages {
			what := fmt.Sprintf("%s at %d px", name, width)
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 844), chromedp.Navigate("file://"+filepath.ToSlash(filepath.Join(dir, name)))); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			if over := eval[int](t, ctx, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
				t.Errorf("%s is %d px too wide", what, over)
			}
			if n := eval[int](t, ctx, `Promise.all([...document.images].map(i => { i.loading = 'eager'; return i.decode().then(() => 0, () => 1) })).then(x => x.reduce((a, b) => a + b, 0))`); n > 0 {
				t.Errorf("%s: %d pictures don't show", what, n)
			}
			if !eval[bool](t, ctx, `document.fonts.ready.then(() => document.fonts.check('17px "Source Sans 3"'))`) {
				t.Errorf("%s: the type is not there", what)
			}
			eval[bool](t, ctx, axe+`; true`)
			found := eval[string](t, ctx, `axe.run(document, {preload: false, runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => JSON.stringify(r.violations.map(v => v.id + ': ' + v.nodes[0].html.slice(0, 200))))`)
			var wrong []string
			if err := json.Unmarshal([]byte(found), &wrong); err != nil {
				t.Fatal(err)
			}
			for _, x := range wrong {
				t.Errorf("%s: %s", what, x)
			}
			if shots := os.Getenv("AERUGO_SHOTS"); shots != "" {
				png := must[[]byte](t)(chromedp.Run(ctx, chromedp.FullScreenshot(100)))
				if err := os.WriteFile(filepath.Join(shots, fmt.Sprintf("site-%d-%s.png", width, name)), png, 0o644); err != nil {
					t.Error(err)
				}
			}
		}
	}
	mu.Lock()
	defer mu.Unlock()
	if len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}

func eval[T any](t *testing.T, ctx context.Context, expr string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	return v
}
