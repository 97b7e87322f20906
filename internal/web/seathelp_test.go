package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/draw"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// A classroom is a stocked bench with a class over its set.
type classroom struct {
	*stock
	class studio.Class
}

// classroomOf serves a class of so many adults that began half an hour ago, its door
// open.
func classroomOf(t *testing.T, heads int) *classroom {
	t.Helper()
	c := &classroom{stock: stocked(t)}
	c.held(t, heads)
	return c
}

func (c *classroom) held(t testing.TB, heads int) {
	t.Helper()
	c.web.OpenDoor("http://192.0.2.7:8737") // an address for documents, RFC 5737
	var err error
	c.class, err = c.store.SaveClass(t.Context(), studio.Class{Name: "First blues", Teacher: "Mira", Starts: c.now().Add(-30 * time.Minute), Minutes: 180, Heads: heads, Who: studio.ForAdults, Where: studio.UnderHood, SetID: c.set})
	if err != nil {
		t.Fatal(err)
	}
	c.post(t, c.at("/door"), url.Values{"do": {"open"}}).to(t)
}

func (c *classroom) at(rest string) string {
	return fmt.Sprintf("/classes/%d/students%s", c.class.ID, rest)
}

func (c *classroom) code(t testing.TB) string {
	t.Helper()
	d, err := c.store.Door(t.Context(), c.class.ID)
	if err != nil || d.Code == "" {
		t.Fatalf("door = %v, %v", d, err)
	}
	return d.Code
}

// A pupil is a student's phone: it comes over TCP under the laptop's name on the
// network, and has a cookie of its own.
type pupil struct {
	b      *bench
	cookie *http.Cookie
	number int
}

const lanName = "192.168.1.2:8737"

func (p *pupil) ask(t testing.TB, method, path string, form url.Values, heads ...string) answer {
	t.Helper()
	a, err := p.try(method, path, form, heads...)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// try is ask for goroutines.
func (p *pupil) try(method, path string, form url.Values, heads ...string) (answer, error) {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, p.b.url+path, body)
	if err != nil {
		return answer{}, err
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return p.sent(r, heads...)
}

func (p *pupil) sent(r *http.Request, heads ...string) (answer, error) {
	r.Host = lanName
	for i := 0; i+1 < len(heads); i += 2 {
		r.Header.Set(heads[i], heads[i+1])
	}
	if p.cookie != nil {
		r.AddCookie(p.cookie)
	}
	return sent(r)
}

// photo sends a photograph of a swatch's face.
func (p *pupil) photo(client string, swatch int64, face string, data []byte) (answer, error) {
	var buf bytes.Buffer
	w := multipart.NewWriter(&buf)
	for name, v := range map[string]string{"client": client, "swatch": id(swatch), "face": face} {
		if err := w.WriteField(name, v); err != nil {
			return answer{}, err
		}
	}
	part, err := w.CreateFormFile("photo", "IMG.jpg")
	if err != nil {
		return answer{}, err
	}
	part.Write(data)
	if err := w.Close(); err != nil {
		return answer{}, err
	}
	r, err := http.NewRequest("POST", p.b.url+"/seat/photos", &buf)
	if err != nil {
		return answer{}, err
	}
	return p.sent(r, "Content-Type", w.FormDataContentType(), "Accept", "application/json")
}

// sits lets a phone sit down.
func (c *classroom) sits(t testing.TB, number int, name string) *pupil {
	t.Helper()
	p := &pupil{b: c.bench, number: number}
	a := p.ask(t, "POST", "/seat/join", url.Values{"code": {c.code(t)}, "number": {strconv.Itoa(number)}, "name": {name}})
	if to := a.to(t); to != "/seat" {
		t.Fatalf("seat %d leads to %s", number, to)
	}
	for _, k := range (&http.Response{Header: a.header}).Cookies() {
		if k.Name == "aerugo_seat" {
			p.cookie = k
		}
	}
	if p.cookie == nil || !p.cookie.HttpOnly || p.cookie.SameSite != http.SameSiteLaxMode {
		t.Fatalf("the seat's cookie is %v", p.cookie)
	}
	return p
}

func (c *classroom) seat(t testing.TB, number int) studio.Seat {
	t.Helper()
	seats, err := c.store.Seats(t.Context(), c.class.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range seats {
		if x.Number == number {
			return x
		}
	}
	t.Fatalf("nobody has seat %d", number)
	return studio.Seat{}
}

// give hands a planned swatch to a seat and returns its treatment.
func (c *classroom) give(t testing.TB, i, seat int) studio.Treatment {
	t.Helper()
	if err := c.store.GiveSwatches(t.Context(), c.class, map[int64]int{c.planned[i].Swatch: seat}, false); err != nil {
		t.Fatal(err)
	}
	return c.planned[i]
}

// treatmentsOf returns the treatments of the class's own set, swatch by swatch.
func (c *classroom) treatmentsOf(t testing.TB) ([]studio.Treatment, error) {
	all, err := c.store.Treatments(t.Context(), store.TreatmentFilter{Set: c.set})
	slices.SortFunc(all, func(a, b studio.Treatment) int { return int(a.Swatch - b.Swatch) })
	return all, err
}

// phonePhoto returns photographs as large as a phone takes them: 12 megapixels.
func phonePhoto(t testing.TB) func(int64, studio.Face, int) []byte {
	t.Helper()
	data, _ := sample(1, studio.Front, 0)
	small, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	large := image.NewRGBA(image.Rect(0, 0, 4032, 3024))
	draw.ApproxBiLinear.Scale(large, large.Bounds(), small, small.Bounds(), draw.Src, nil)
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, large, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return func(int64, studio.Face, int) []byte { return buf.Bytes() }
}
