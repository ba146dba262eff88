-- Plays the plugin in a new session without a screen or a sound card, and records
-- its notes and its sound on a track each.
--
-- ardour.lua FOLDER TEMPOS BLOCK SPEED PLAYS
--   FOLDER   where the session is made
--   TEMPOS   from which beat and how fast: 0:92,24:120
--   SPEED    of the device that stands for a sound card: Normal Speed, 10x Speed
--   PLAYS    straight  the form once and a beat more
--            loop      beats 4 to 8, four times and a bit
--            locate    jumps ahead and back while rolling
--            export    not played, but exported to FOLDER/export.wav
local out, tempos, block, speed, plays = arg[1], arg[2], tonumber(arg[3]), arg[4], arg[5]
local rate, folder = 48000, out .. "/session"
local ui = ARDOUR.TransportRequestSource.TRS_UI
local tick = Temporal.ticks_per_beat

local device = AudioEngine:set_backend("None (Dummy)", "", "")
device:set_device_name("Silence")
device:set_driver(speed)
device:set_buffer_size(block)

local function connect(input, output)
  input:disconnect_all()
  assert(input:connect(output:name()) == 0, "cannot connect " .. output:name())
end

-- In a function, so that nothing holds on to the session when it is closed.
local function build()
  local s = create_session(folder, "session", rate)
  assert(s:get_block_size() == block, "the engine does not take this block size")
  local map = Temporal.TempoMap.fetch_writable()
  for beat, tempo in tempos:gmatch("([^:,]+):([^:,]+)") do
    map:set_tempo(Temporal.Tempo(tempo, tempo, 4), Temporal.timepos_t.from_ticks(tick * beat))
  end
  Temporal.TempoMap.update(map)

  ARDOUR.LuaAPI.list_plugins() -- reads what the scan has left
  local plugin = ARDOUR.LuaAPI.new_plugin_info("426172666F726D4C6574746572644141", ARDOUR.PluginType.VST3)
  assert(not plugin:isnil(), "the plugin was not found")
  local midi = ARDOUR.ChanCount(ARDOUR.DataType("midi"), 1)
  local stereo = ARDOUR.ChanCount(ARDOUR.DataType("audio"), 2)
  local none, last, normal = ARDOUR.PluginInfo(), ARDOUR.PresentationInfo.max_order, ARDOUR.TrackMode.Normal
  s:add_master_bus(stereo)
  local from = s:new_midi_track(midi, stereo, false, plugin, nil, nil, 1, "Barform", last, normal, true, false):front():output()
  local notes = s:new_midi_track(midi, midi, false, none, nil, nil, 1, "Notes", last, normal, false, false):front()
  local sound = s:new_audio_track(2, 2, nil, 1, "Sound", last, normal, false):front()
  connect(notes:input():midi(0), from:midi(0))
  notes:output():midi(0):disconnect_all()
  for i = 0, 1 do
    sound:output():audio(i):disconnect_all()
    connect(sound:input():audio(i), from:audio(i))
    connect(s:master_out():input():audio(i), from:audio(i))
  end
  s:save_state("", false, false, false, false, false)
end

-- A loop is made with the mouse, or by a hand in the file.
local function add_loop(from, to)
  local path = folder .. "/session.ardour"
  local file = io.open(path)
  local text = file:read("a")
  file:close()
  local loop = ('<Location id="99999" name="Loop" start="b%d" end="b%d" flags="IsAutoLoop"/>'):format(from * tick, to * tick)
  local found
  text, found = text:gsub("<Locations/>", "<Locations>" .. loop .. "</Locations>")
  if found == 0 then text, found = text:gsub("</Locations>", loop .. "</Locations>") end
  assert(found == 1, "no place for a loop in the session's file")
  file = io.open(path, "w")
  file:write(text)
  file:close()
end

build()
collectgarbage()
collectgarbage()
close_session()
if plays == "loop" then add_loop(4, 8) end
local s = load_session(folder, "session")
local map = Temporal.TempoMap.read()
local function sample_of(beat) return map:sample_at(Temporal.timepos_t.from_ticks(math.floor(beat * tick))) end
local function wait_until(true_now)
  while not true_now() do ARDOUR.LuaAPI.usleep(2000) end
end
local function roll_to(beat)
  local at = sample_of(beat)
  wait_until(function() return s:transport_sample() >= at end)
end
local function locate(beat)
  local at, soon = sample_of(beat), sample_of(beat + 1)
  s:request_locate(at, false, ARDOUR.LocateTransportDisposition.RollIfAppropriate, ui)
  wait_until(function() return s:transport_rolling() and s:transport_sample() > at and s:transport_sample() < soon end)
end

-- After an export Ardour may crash while it closes, whatever instrument is in the
-- session: who started this goes by the file, not by how it ended.
local function done() io.open(out .. "/done", "w"):close() end

if plays == "export" then
  local export = s:simple_export()
  export:set_folder(out)
  export:set_name("export")
  -- To the rest at the end: no block comes after the last one, in which notes could end.
  export:set_range(0, sample_of(63.75))
  assert(export:set_preset("6f4b3a0e-5c1d-4f0b-9a52-7d1c2e8b4a60"), "the export preset is not there")
  assert(export:run_export(), "the export failed")
  done()
  os.exit(0)
end

for _, name in ipairs { "Notes", "Sound" } do
  s:route_by_name(name):to_track():rec_enable_control():set_value(1, PBD.GroupControlDisposition.NoGroup)
end
s:maybe_enable_record(false)
s:request_locate(0, true, ARDOUR.LocateTransportDisposition.MustStop, ui)
ARDOUR.LuaAPI.usleep(500000)

if plays == "loop" then
  local start = AudioEngine:processed_samples()
  s:request_play_loop(true, true)
  wait_until(function() return AudioEngine:processed_samples() > start + 5 * (sample_of(8) - sample_of(4)) end)
else
  s:request_roll(ui)
  if plays == "locate" then
    roll_to(6)
    locate(24)
    roll_to(30)
    locate(8)
    roll_to(13)
  else
    roll_to(65)
  end
end
s:request_stop(false, false, ui)
wait_until(function() return s:transport_stopped() end)
sleep(1)
s:disable_record(false)
s:save_state("", false, false, false, false, false)
-- What was recorded as MIDI is written when the session is closed.
s, map = nil, nil
collectgarbage()
collectgarbage()
close_session()
done()
