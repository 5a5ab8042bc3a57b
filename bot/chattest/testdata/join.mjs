// A small bot on a general client library, for the test that the stand-in speaks the protocol to a client we did not write.
// It prints what it hears as JSON, a line each, and answers. It ends when its standard input does.
import { createRequire } from 'node:module';

const require = createRequire(process.env.CHAT_MODULES + '/');
const {
	ActionRowBuilder, ApplicationCommandOptionType, ButtonBuilder, ButtonStyle, Client, Events, GatewayIntentBits,
	MessageFlags, ModalBuilder, Partials, TextInputBuilder, TextInputStyle,
} = require('discord.js');

const tell = (event, data = {}) => console.log(JSON.stringify({ event, ...data }));

const client = new Client({
	intents: [GatewayIntentBits.Guilds, GatewayIntentBits.GuildMessages, GatewayIntentBits.DirectMessages, GatewayIntentBits.MessageContent],
	partials: [Partials.Channel],
	rest: { api: process.env.CHAT_URL + '/api' },
});

client.on(Events.ClientReady, async () => {
	await client.application.commands.set([
		{
			name: 'want', description: 'what you want', options: [
				{ type: ApplicationCommandOptionType.String, name: 'pieces', description: 'which', autocomplete: true },
				{ type: ApplicationCommandOptionType.Attachment, name: 'list', description: 'a file' },
				{ type: ApplicationCommandOptionType.User, name: 'from', description: 'whose' },
			],
		},
		{ name: 'form', description: 'a form' },
		{ name: 'slow', description: 'takes its time' },
	]);
	tell('ready', { user: client.user.id, guilds: client.guilds.cache.map((g) => g.name), channels: client.channels.cache.map((c) => c.name) });
});

client.on(Events.MessageCreate, async (m) => {
	if (m.author.id === client.user.id) return;
	tell('message', { author: m.author.globalName, content: m.content, private: m.guild === null });
	if (m.content === 'ping') await m.reply({ content: 'pong', files: [{ attachment: Buffer.from('82-86'), name: 'list.txt' }] });
});
client.on(Events.MessageUpdate, (_, m) => tell('edited', { content: m.content }));
client.on(Events.GuildCreate, (g) => tell('guild', { name: g.name }));
client.on(Events.GuildDelete, (g) => tell('removed', { name: g.name }));
client.on(Events.ThreadCreate, (c) => tell('thread', { name: c.name }));
client.on(Events.ShardResume, (_, replayed) => tell('resumed', { replayed }));
client.on(Events.Error, (e) => tell('error', { message: String(e) }));
client.on(Events.Warn, (w) => tell('warning', { message: w }));

client.on(Events.InteractionCreate, async (i) => {
	try {
		if (i.isAutocomplete()) {
			await i.respond([{ name: 'all of ' + i.options.getFocused(), value: i.options.getFocused() }]);
		} else if (i.isChatInputCommand() && i.commandName === 'want') {
			const file = i.options.getAttachment('list');
			tell('command', { pieces: i.options.getString('pieces'), file: file?.name, url: file?.url, from: i.options.getUser('from')?.globalName });
			const undo = new ActionRowBuilder().addComponents(new ButtonBuilder().setCustomId('undo').setLabel('Undo').setStyle(ButtonStyle.Secondary));
			const r = await i.reply({ content: 'Noted: ' + i.options.getString('pieces'), components: [undo], withResponse: true });
			tell('noted', { id: r.resource.message.id });
		} else if (i.isChatInputCommand() && i.commandName === 'slow') {
			await i.deferReply({ flags: MessageFlags.Ephemeral });
			await i.editReply('there');
			await i.followUp({ content: 'and more', flags: MessageFlags.Ephemeral });
			await i.user.send('in private');
			const thread = await i.channel.threads.create({ name: 'a trade', type: 12 });
			await thread.members.add(i.user.id);
			await thread.send('in the thread');
		} else if (i.isChatInputCommand()) {
			const input = new TextInputBuilder().setCustomId('text').setLabel('Pieces').setStyle(TextInputStyle.Paragraph);
			await i.showModal(new ModalBuilder().setCustomId('list').setTitle('Your list').addComponents(new ActionRowBuilder().addComponents(input)));
		} else if (i.isButton()) {
			await i.update({ content: 'Taken back.', components: [] });
		} else if (i.isModalSubmit()) {
			await i.reply('Read: ' + i.fields.getTextInputValue('text'));
		}
	} catch (e) {
		tell('error', { message: String(e) });
	}
});

process.stdin.resume();
process.stdin.on('end', async () => {
	await client.destroy();
	process.exit(0);
});
await client.login(process.env.CHAT_TOKEN);
