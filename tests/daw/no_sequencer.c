/* Stands in for the ALSA sequencer where the kernel has none (no /dev/snd/seq),
 * as in most containers: a DAW that opens it before anything else starts all the
 * same. Nothing comes in, what goes out is dropped, and time runs by the clock.
 * Loaded ahead of the ALSA library (LD_PRELOAD).
 */
#include <alsa/asoundlib.h>
#include <time.h>
#include <unistd.h>

static char handle[64];
static int ends[2] = {-1, -1}, ports, running, resolution = 960;
static double us_per_beat = 500000, since, ticks;

static double tick(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    double now = t.tv_sec * 1e6 + t.tv_nsec / 1e3;
    if (running) ticks += (now - since) / us_per_beat * resolution;
    since = now;
    return ticks;
}

int snd_seq_open(snd_seq_t **seq, const char *name, int streams, int mode) {
    *seq = (snd_seq_t *)handle;
    return ends[0] < 0 ? pipe(ends) : 0;
}
int snd_seq_client_id(snd_seq_t *seq) { return 128; }
int snd_seq_create_simple_port(snd_seq_t *seq, const char *name, unsigned caps, unsigned type) { return ports++; }
int snd_seq_control_queue(snd_seq_t *seq, int queue, int type, int value, snd_seq_event_t *event) {
    tick();
    if (type == SND_SEQ_EVENT_START) ticks = 0;
    if (type == SND_SEQ_EVENT_START || type == SND_SEQ_EVENT_CONTINUE) running = 1;
    if (type == SND_SEQ_EVENT_STOP) running = 0;
    if (type == SND_SEQ_EVENT_TEMPO) us_per_beat = value;
    return 0;
}
int snd_seq_get_queue_tempo(snd_seq_t *seq, int queue, snd_seq_queue_tempo_t *tempo) {
    memset(tempo, 0, snd_seq_queue_tempo_sizeof());
    snd_seq_queue_tempo_set_tempo(tempo, us_per_beat);
    snd_seq_queue_tempo_set_ppq(tempo, resolution);
    return 0;
}
int snd_seq_set_queue_tempo(snd_seq_t *seq, int queue, snd_seq_queue_tempo_t *tempo) {
    tick();
    us_per_beat = snd_seq_queue_tempo_get_tempo(tempo);
    resolution = snd_seq_queue_tempo_get_ppq(tempo);
    return 0;
}
int snd_seq_get_queue_status(snd_seq_t *seq, int queue, snd_seq_queue_status_t *status) {
    memset(status, 0, snd_seq_queue_status_sizeof());
    return 0;
}
snd_seq_tick_time_t snd_seq_queue_status_get_tick_time(const snd_seq_queue_status_t *status) { return tick(); }
int snd_seq_poll_descriptors_count(snd_seq_t *seq, short events) { return 1; }
int snd_seq_poll_descriptors(snd_seq_t *seq, struct pollfd *fds, unsigned space, short events) {
    if (!space) return 0;
    *fds = (struct pollfd){.fd = ends[0], .events = POLLIN};
    return 1;
}
int snd_seq_event_input(snd_seq_t *seq, snd_seq_event_t **event) {
    *event = NULL;
    return -EAGAIN;
}
int snd_seq_get_any_client_info(snd_seq_t *seq, int client, snd_seq_client_info_t *info) { return -ENOENT; }
int snd_seq_get_any_port_info(snd_seq_t *seq, int client, int port, snd_seq_port_info_t *info) { return -ENOENT; }
int snd_seq_query_next_client(snd_seq_t *seq, snd_seq_client_info_t *info) { return -ENOENT; }
int snd_seq_query_next_port(snd_seq_t *seq, snd_seq_port_info_t *info) { return -ENOENT; }
int snd_seq_query_port_subscribers(snd_seq_t *seq, snd_seq_query_subscribe_t *info) { return -ENOENT; }
int snd_seq_get_port_info(snd_seq_t *seq, int port, snd_seq_port_info_t *info) {
    memset(info, 0, snd_seq_port_info_sizeof());
    return 0;
}
int snd_seq_close(snd_seq_t *seq) { return 0; }
int snd_seq_set_client_name(snd_seq_t *seq, const char *name) { return 0; }
int snd_seq_alloc_queue(snd_seq_t *seq) { return 0; }
int snd_seq_free_queue(snd_seq_t *seq, int queue) { return 0; }
int snd_seq_delete_simple_port(snd_seq_t *seq, int port) { return 0; }
int snd_seq_drain_output(snd_seq_t *seq) { return 0; }
int snd_seq_drop_output(snd_seq_t *seq) { return 0; }
int snd_seq_drop_input(snd_seq_t *seq) { return 0; }
int snd_seq_event_output(snd_seq_t *seq, snd_seq_event_t *event) { return 0; }
int snd_seq_event_output_direct(snd_seq_t *seq, snd_seq_event_t *event) { return 0; }
int snd_seq_event_input_pending(snd_seq_t *seq, int fetch) { return 0; }
int snd_seq_free_event(snd_seq_event_t *event) { return 0; }
int snd_seq_set_port_info(snd_seq_t *seq, int port, snd_seq_port_info_t *info) { return 0; }
int snd_seq_subscribe_port(snd_seq_t *seq, snd_seq_port_subscribe_t *link) { return 0; }
int snd_seq_remove_events(snd_seq_t *seq, snd_seq_remove_events_t *which) { return 0; }
int snd_seq_set_queue_timer(snd_seq_t *seq, int queue, snd_seq_queue_timer_t *timer) { return 0; }
