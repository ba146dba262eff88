/* A pass-through between a host and the built plugin, CLAP or VST3, Linux.
 *
 * The host loads this library in the plugin's place; it loads the plugin from
 * PROBE_PLUGIN, hands everything on, and writes to PROBE_LOG what the host said
 * of the transport and which notes the plugin sent:
 *
 *   T frames playing seconds beats tempo    one line a block
 *   N offset on key velocity                a note of the block above; 0 to 127
 *
 * The structures are those of the published interfaces, CLAP 1.2 (clap/plugin.h,
 * clap/process.h, clap/events.h) and VST 3 (ivstaudioprocessor.h, ivstevents.h,
 * ivstprocesscontext.h), cut to what is read here.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#define EXPORT __attribute__((visibility("default")))

static FILE *written;

/* The plugin's own symbol of that name. */
static void *plugin_symbol(const char *name) {
    static void *plugin;
    if (!plugin) {
        const char *path = getenv("PROBE_PLUGIN"), *log = getenv("PROBE_LOG");
        plugin = path ? dlopen(path, RTLD_NOW | RTLD_LOCAL) : NULL;
        if (!plugin) fprintf(stderr, "probe: %s\n", path ? dlerror() : "PROBE_PLUGIN is not set");
        if (log && (written = fopen(log, "w"))) setvbuf(written, NULL, _IOFBF, 1 << 22);
    }
    return plugin ? dlsym(plugin, name) : NULL;
}

__attribute__((destructor)) static void flush(void) {
    if (written) fflush(written);
}

static void log_block(uint32_t frames, bool playing, double seconds, double beats, double tempo) {
    static bool played;
    if (!written) return;
    if (played && !playing) fflush(written); /* a host may end without unloading the plugin */
    played = playing;
    fprintf(written, "T %u %d %.10f %.10f %.8f\n", frames, playing, seconds, beats, tempo);
}

static void log_note(uint32_t offset, bool on, int key, double velocity) {
    if (written) fprintf(written, "N %u %d %d %.0f\n", offset, on, key, velocity * 127);
}

/* ---- CLAP ---------------------------------------------------------------- */

typedef struct { uint32_t size, time; uint16_t space, type; uint32_t flags; } clap_header;
typedef struct { clap_header header; int32_t id; int16_t port, channel, key; double velocity; } clap_note;
typedef struct { clap_header header; uint16_t port; uint8_t data[3]; } clap_midi;
typedef struct { clap_header header; uint32_t flags; int64_t beats, seconds; double tempo; } clap_transport;
typedef struct clap_out { void *ctx; bool (*push)(const struct clap_out *, const clap_header *); } clap_out;
typedef struct {
    int64_t steady; uint32_t frames; const clap_transport *transport;
    const void *inputs; void *outputs; uint32_t n_inputs, n_outputs;
    const void *in_events; const clap_out *out_events;
} clap_process;
typedef struct clap_plugin {
    const void *desc; void *data;
    void *init, *destroy, *activate, *deactivate, *start, *stop, *reset;
    int32_t (*process)(const struct clap_plugin *, const clap_process *);
} clap_plugin;
typedef struct {
    uint32_t (*count)(const void *);
    const void *(*descriptor)(const void *, uint32_t);
    clap_plugin *(*create)(const void *, const void *, const char *);
} clap_factory;
typedef struct {
    uint32_t version[3];
    bool (*init)(const char *);
    void (*deinit)(void);
    const void *(*factory)(const char *);
} clap_entry_t;
enum { CLAP_NOTE_ON, CLAP_NOTE_OFF, CLAP_MIDI = 10, CLAP_HAS_BEATS = 2, CLAP_HAS_SECONDS = 4, CLAP_PLAYING = 16 };

static int32_t (*clap_real_process)(const clap_plugin *, const clap_process *);
static const clap_factory *clap_real_factory;

static bool clap_push(const clap_out *out, const clap_header *event) {
    if (event->space == 0 && event->type <= CLAP_NOTE_OFF) {
        const clap_note *note = (const clap_note *)event;
        log_note(event->time, event->type == CLAP_NOTE_ON, note->key, note->velocity);
    } else if (event->space == 0 && event->type == CLAP_MIDI) {
        const uint8_t *data = ((const clap_midi *)event)->data, kind = data[0] & 0xf0;
        if (kind == 0x80 || kind == 0x90) log_note(event->time, kind == 0x90 && data[2], data[1], data[2] / 127.);
    }
    const clap_out *real = out->ctx;
    return real->push(real, event);
}

static int32_t clap_probe_process(const clap_plugin *plugin, const clap_process *block) {
    const double fixed = (double)(1ll << 31);
    const clap_transport *t = block->transport;
    uint32_t has = t ? t->flags : 0;
    log_block(block->frames, has & CLAP_PLAYING, has & CLAP_HAS_SECONDS ? t->seconds / fixed : NAN,
              has & CLAP_HAS_BEATS ? t->beats / fixed : NAN, t ? t->tempo : NAN);
    clap_out out = {(void *)block->out_events, clap_push};
    clap_process copy = *block;
    copy.out_events = &out;
    return clap_real_process(plugin, &copy);
}

static clap_plugin *clap_create(const void *factory, const void *host, const char *id) {
    (void)factory;
    clap_plugin *plugin = clap_real_factory->create(clap_real_factory, host, id);
    if (plugin && plugin->process != clap_probe_process) {
        clap_real_process = plugin->process;
        plugin->process = clap_probe_process;
    }
    return plugin;
}

static uint32_t clap_count(const void *factory) { (void)factory; return clap_real_factory->count(clap_real_factory); }
static const void *clap_descriptor(const void *factory, uint32_t index) {
    (void)factory;
    return clap_real_factory->descriptor(clap_real_factory, index);
}
static const clap_factory clap_probe_factory = {clap_count, clap_descriptor, clap_create};

static const clap_entry_t *clap_real(void) { return plugin_symbol("clap_entry"); }
static bool clap_init(const char *path) {
    (void)path;
    return clap_real() && clap_real()->init(getenv("PROBE_PLUGIN"));
}
static void clap_deinit(void) { clap_real()->deinit(); flush(); }
static const void *clap_get_factory(const char *id) {
    const void *factory = clap_real()->factory(id);
    if (!factory || strcmp(id, "clap.plugin-factory") != 0) return factory;
    clap_real_factory = factory;
    return &clap_probe_factory;
}
EXPORT const clap_entry_t clap_entry = {{1, 2, 0}, clap_init, clap_deinit, clap_get_factory};

/* ---- VST3 ---------------------------------------------------------------- */

/* Every object starts with the table of its functions; these are their places. */
typedef struct { void **table; } vst_object;
enum { QUERY = 0, RELEASE = 2, FACTORY_CREATE = 6, PROCESSOR_PROCESS = 9, EVENTS_COUNT = 3, EVENTS_GET = 4 };

typedef struct {
    uint32_t state; double rate; int64_t samples, system_time, continuous_samples;
    double beats, bar, cycle_start, cycle_end, tempo;
} vst_context;
typedef struct {
    int32_t mode, sample_size, frames, n_inputs, n_outputs;
    void *inputs, *outputs, *in_changes, *out_changes;
    vst_object *in_events, *out_events;
    const vst_context *context;
} vst_process_data;
typedef struct {
    int32_t bus, offset; double beats; uint16_t flags, type;
    union {
        struct { int16_t channel, key; float tuning, velocity; int32_t length, id; } on;
        struct { int16_t channel, key; float velocity; int32_t id; } off;
        uint64_t room[8];
    };
} vst_event;
enum { VST_PLAYING = 1 << 1, VST_BEATS_VALID = 1 << 9, VST_TEMPO_VALID = 1 << 10, VST_NOTE_ON = 0, VST_NOTE_OFF = 1 };
/* IAudioProcessor, as the interface declares it. */
static const unsigned char AUDIO_PROCESSOR[16] = {0x42, 0x04, 0x3F, 0x99, 0xB7, 0xDA, 0x45, 0x3C,
                                                  0xA5, 0x69, 0xE7, 0x9D, 0x9A, 0xAE, 0xC3, 0x3D};

static int32_t (*vst_real_process)(void *, vst_process_data *);
static int32_t (*vst_real_create)(void *, const char *, const char *, void **);

/* Puts a function of ours into a table and returns the one that was there. */
static void *replace(vst_object *object, int place, void *with) {
    void **slot = &object->table[place], *was = *slot;
    long page = sysconf(_SC_PAGESIZE);
    mprotect((void *)((uintptr_t)slot & ~(uintptr_t)(page - 1)), (size_t)page, PROT_READ | PROT_WRITE);
    *slot = with;
    return was;
}

static int32_t vst_process(void *self, vst_process_data *block) {
    const vst_context *c = block->context;
    uint32_t has = c ? c->state : 0;
    log_block((uint32_t)block->frames, has & VST_PLAYING, c ? (double)c->samples / c->rate : NAN,
              has & VST_BEATS_VALID ? c->beats : NAN, has & VST_TEMPO_VALID ? c->tempo : NAN);
    int32_t result = vst_real_process(self, block);
    vst_object *events = block->out_events;
    int32_t count = events ? ((int32_t (*)(void *))events->table[EVENTS_COUNT])(events) : 0;
    for (int32_t i = 0; i < count; i++) {
        vst_event event = {0};
        ((int32_t (*)(void *, int32_t, vst_event *))events->table[EVENTS_GET])(events, i, &event);
        if (event.type == VST_NOTE_ON) log_note((uint32_t)event.offset, true, event.on.key, event.on.velocity);
        if (event.type == VST_NOTE_OFF) log_note((uint32_t)event.offset, false, event.off.key, 0);
    }
    return result;
}

static int32_t vst_create(void *factory, const char *class_id, const char *interface, void **object) {
    int32_t result = vst_real_create(factory, class_id, interface, object);
    vst_object *made = result == 0 ? *object : NULL, *processor = NULL;
    if (!made) return result;
    ((int32_t (*)(void *, const void *, vst_object **))made->table[QUERY])(made, AUDIO_PROCESSOR, &processor);
    if (processor) {
        if (processor->table[PROCESSOR_PROCESS] != (void *)vst_process)
            vst_real_process = replace(processor, PROCESSOR_PROCESS, vst_process);
        ((uint32_t (*)(void *))processor->table[RELEASE])(processor);
    }
    return result;
}

EXPORT bool ModuleEntry(void *handle) {
    bool (*real)(void *) = plugin_symbol("ModuleEntry");
    return real && real(handle);
}
EXPORT bool ModuleExit(void) {
    bool (*real)(void) = plugin_symbol("ModuleExit");
    flush();
    return !real || real();
}
EXPORT void *GetPluginFactory(void) {
    void *(*real)(void) = plugin_symbol("GetPluginFactory");
    vst_object *factory = real ? real() : NULL;
    if (factory && factory->table[FACTORY_CREATE] != (void *)vst_create)
        vst_real_create = replace(factory, FACTORY_CREATE, vst_create);
    return factory;
}
