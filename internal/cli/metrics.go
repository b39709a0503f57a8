package cli

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"proofbell/internal/app"
	"proofbell/internal/receiver"
)

// metrics is what a process tells a monitoring system. docs/metrics.md lists it. No label names an account, a device or
// an address: their number has no bound, and whoever reads the figures need not know them.
type metrics struct {
	registry *prometheus.Registry
	commits  prometheus.Histogram
	batches  prometheus.Histogram
	failed   prometheus.Counter
	draining atomic.Bool
}

func newMetrics() *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		commits: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "proofbell_inbox_commit_seconds", Help: "Time to put a batch of signals on disk.", Buckets: prometheus.ExponentialBuckets(0.0005, 2, 14),
		}),
		batches: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "proofbell_inbox_batch_signals", Help: "Signals that shared one commit.", Buckets: prometheus.ExponentialBuckets(1, 2, 11),
		}),
		failed: prometheus.NewCounter(prometheus.CounterOpts{Name: "proofbell_inbox_failed_commits_total", Help: "Batches that could not be stored: none of their signals was answered."}),
	}
	m.registry.MustRegister(m.commits, m.batches, m.failed, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	m.gauge("proofbell_draining", "1 once the process was told to end and finishes what it has in hand.", func() float64 { return yes(m.draining.Load()) })
	return m
}

func (m *metrics) gauge(name, help string, value func() float64) {
	m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, value))
}

// committed is told each commit of the inbox.
func (m *metrics) committed(signals int, took time.Duration, err error) {
	if err != nil {
		m.failed.Inc()
		return
	}
	m.commits.Observe(took.Seconds())
	m.batches.Observe(float64(signals))
}

func (m *metrics) windows(open func() int) {
	m.gauge("proofbell_windows_open", "Test windows in which signals are answered now.", func() float64 { return float64(open()) })
}

// backlog shows what is in the inbox and in no book yet.
func (m *metrics) backlog(look func() app.Backlog) { m.registry.MustRegister(backlogFigures{look}) }

func (m *metrics) receiver(r *receiver.Receiver) { m.registry.MustRegister(receiverFigures{r}) }

var (
	framesFigure   = prometheus.NewDesc("proofbell_frames_total", "Sound frames by what was answered.", []string{"answer"}, nil)
	faultsFigure   = prometheus.NewDesc("proofbell_faults_total", "Unsound frames and runs of bytes that belong to none, by cause.", []string{"cause"}, nil)
	lostFigure     = prometheus.NewDesc("proofbell_replies_lost_total", "Signals stored whose reply could not be sent.", nil, nil)
	openFigure     = prometheus.NewDesc("proofbell_connections", "TCP connections open now.", nil, nil)
	acceptedFigure = prometheus.NewDesc("proofbell_connections_accepted_total", "TCP connections taken.", nil, nil)
	refusedFigure  = prometheus.NewDesc("proofbell_connections_refused_total", "TCP connections refused because there were too many.", nil, nil)
	slowedFigure   = prometheus.NewDesc("proofbell_slowed_total", "Times that a connection waited because its address sends too much.", nil, nil)
	droppedFigure  = prometheus.NewDesc("proofbell_datagrams_dropped_total", "UDP datagrams dropped because their address sends too much.", nil, nil)
	acceptFigure   = prometheus.NewDesc("proofbell_accept_errors_total", "Errors of the system in taking connections or datagrams.", nil, nil)

	backlogFigure = prometheus.NewDesc("proofbell_inbox_backlog_signals", "Signals that are stored and not yet in the book of their job.", nil, nil)
	ageFigure     = prometheus.NewDesc("proofbell_inbox_backlog_age_seconds", "Age of the oldest of them, or time since the database was reached.", nil, nil)
	awayFigure    = prometheus.NewDesc("proofbell_books_away", "1 while the database of the books can not be reached.", nil, nil)
	silentFigure  = prometheus.NewDesc("proofbell_backlog_silent", "1 while nothing is answered because too much waits, or for too long.", nil, nil)
)

// faultCauses are shown before their first fault too: what was never there can not be seen to grow.
var faultCauses = []string{"checksum", "length", "syntax", "garbage", "truncated", "too long", "not hex", "unknown id"}

// receiverFigures reads the counts of a receiver when somebody asks: nothing is added to the way of a frame.
type receiverFigures struct{ r *receiver.Receiver }

func (f receiverFigures) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(f, ch) }

func (f receiverFigures) Collect(ch chan<- prometheus.Metric) {
	s := f.r.Stats()
	count := func(d *prometheus.Desc, n int64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, float64(n), labels...)
	}
	count(framesFigure, s.Acknowledged, "ack")
	count(framesFigure, s.CannotProcess, "duh")
	count(framesFigure, s.TimeRefused, "nak")
	count(framesFigure, s.Silent, "silence")
	count(framesFigure, s.NotStored, "not-stored")
	for _, cause := range faultCauses {
		count(faultsFigure, int64(s.Faults[cause]), cause)
		delete(s.Faults, cause)
	}
	for cause, n := range s.Faults {
		count(faultsFigure, int64(n), cause)
	}
	count(lostFigure, s.RepliesLost)
	count(acceptedFigure, s.Accepted)
	count(refusedFigure, s.Refused)
	count(slowedFigure, s.Slowed)
	count(droppedFigure, s.Dropped)
	count(acceptFigure, s.AcceptErrors)
	ch <- prometheus.MustNewConstMetric(openFigure, prometheus.GaugeValue, float64(s.Conns))
}

type backlogFigures struct{ look func() app.Backlog }

func (f backlogFigures) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(f, ch) }

func (f backlogFigures) Collect(ch chan<- prometheus.Metric) {
	b := f.look()
	gauge := func(d *prometheus.Desc, v float64) { ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v) }
	gauge(backlogFigure, float64(b.Waiting))
	gauge(ageFigure, float64(b.Age))
	gauge(awayFigure, yes(b.Away))
	gauge(silentFigure, yes(b.Silent))
}

func yes(v bool) float64 {
	if v {
		return 1
	}
	return 0
}

type watchFlags struct {
	Metrics string `help:"Address for figures in the text format of OpenMetrics, under /metrics; without a host, this machine alone." placeholder:"[HOST]:PORT"`
}

// figures serves a process's metrics. The zero value is off.
type figures struct {
	server *http.Server
	addr   net.Addr
	done   chan struct{}
}

// watch serves the metrics if they are asked for.
func (c watchFlags) watch(ctx context.Context, m *metrics, log *slog.Logger) (figures, error) {
	if c.Metrics == "" {
		return figures{}, nil
	}
	host, port, err := net.SplitHostPort(c.Metrics)
	if err != nil {
		return figures{}, fmt.Errorf("--metrics %q: %w; write it as host:port, for example 127.0.0.1:8090", c.Metrics, err)
	}
	if host == "" {
		host = "127.0.0.1"
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		return figures{}, fmt.Errorf("--metrics %q would be read from every network of this machine: name one address", c.Metrics)
	}
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", net.JoinHostPort(host, port))
	if err != nil {
		return figures{}, fmt.Errorf("--metrics: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn), ErrorHandling: promhttp.ContinueOnError, MaxRequestsInFlight: 4, EnableOpenMetrics: true,
	}))
	f := figures{addr: l.Addr(), done: make(chan struct{}), server: &http.Server{
		Handler: mux, ReadTimeout: 5 * time.Second, WriteTimeout: 10 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 8 << 10,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}}
	go func() {
		defer close(f.done)
		_ = f.server.Serve(l) // ends with close
	}()
	return f, nil
}

// address is where the metrics are; "" when they are off.
func (f figures) address() string {
	if f.server == nil {
		return ""
	}
	return "http://" + f.addr.String() + "/metrics"
}

func (f figures) close() error {
	if f.server == nil {
		return nil
	}
	err := f.server.Close()
	<-f.done
	return err
}
